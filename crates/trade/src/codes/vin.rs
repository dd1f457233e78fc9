//! The check digit of a vehicle identification number (49 CFR 565.15(c)): letters become digits, each place has a
//! weight, and the sum modulo 11 stands in the ninth place, with X for ten.
//!
//! Two letters of the same value (A and J are both 1, B K S are all 2) can stand for each other unseen. One digit
//! seventeen times passes the sum, and is what forms carry that mean "none" or "unknown": refused here.
//! The rule binds makers for the North American market; elsewhere the ninth place is free.

use super::{Misfit, digit_char, same};

const WEIGHTS: [u32; 17] = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];
const CHECK_INDEX: usize = 8;

/// The check digit that belongs in the ninth place of these 17 characters, whatever stands there now.
///
/// # Errors
/// [`Misfit`] when there are not 17 characters or one of them has no value.
pub fn check_character(vin: &str) -> Result<char, Misfit> {
    let found = vin.chars().count();
    if found != WEIGHTS.len() {
        return Err(Misfit::Length {
            found,
            wanted: "a VIN has 17",
        });
    }
    let mut sum = 0;
    for (i, (c, weight)) in vin.chars().zip(WEIGHTS).enumerate() {
        // The ninth place weighs nothing, so only its form is checked.
        let value = value(c).ok_or(Misfit::Character {
            found: c,
            place: i + 1,
            allowed: "a VIN has digits and letters without I, O and Q",
        })?;
        sum += value * weight;
    }
    Ok(if sum % 11 == 10 { 'X' } else { digit_char(sum % 11) })
}

/// Whether the ninth place fits the others.
///
/// # Errors
/// [`Misfit`], saying what does not fit.
pub fn check(code: &str) -> Result<(), Misfit> {
    let wanted = check_character(code)?;
    let mut all = code.chars();
    let first = all.next();
    if all.all(|c| Some(c) == first) {
        return Err(Misfit::Repeated);
    }
    let found = code.chars().nth(CHECK_INDEX).unwrap_or(' ');
    same(found.to_ascii_uppercase(), wanted)
}

fn value(character: char) -> Option<u32> {
    Some(match character.to_ascii_uppercase() {
        digit @ '0'..='9' => digit.to_digit(10)?,
        'A' | 'J' => 1,
        'B' | 'K' | 'S' => 2,
        'C' | 'L' | 'T' => 3,
        'D' | 'M' | 'U' => 4,
        'E' | 'N' | 'V' => 5,
        'F' | 'W' => 6,
        'G' | 'P' | 'X' => 7,
        'H' | 'Y' => 8,
        'R' | 'Z' => 9,
        _ => return None,
    })
}

#[cfg(test)]
#[path = "vin_tests.rs"]
mod tests;
