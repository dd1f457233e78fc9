//! The check digit of a vehicle identification number (49 CFR 565.15(c)): letters become digits, each place has a
//! weight, and the sum modulo 11 is in the ninth place, with X for ten.
//!
//! It misses a letter in the place of another one of the same value (A and J are both 1; B, K and S are 2). One digit
//! seventeen times fits the sum, and is what people write for "none" or "unknown": it is refused here.
//! The rule binds makers for the North American market; elsewhere the ninth place is free.

use super::digits::digit_char;
use super::misfit::{Misfit, same};

const WEIGHTS: [u32; 17] = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];

/// The check digit that belongs in the ninth place of these 17 characters, whatever is there now.
///
/// # Errors
/// [`Misfit`] when there are not 17 characters or one of them has no value.
pub fn check_character(vin: &str) -> Result<char, Misfit> {
    check_digit(&characters(vin)?)
}

fn characters(vin: &str) -> Result<[char; WEIGHTS.len()], Misfit> {
    let all: Vec<char> = vin.chars().collect();
    all.try_into().map_err(|all: Vec<char>| Misfit::Length {
        found: all.len(),
        wanted: "a VIN has 17",
    })
}

fn check_digit(vin: &[char; WEIGHTS.len()]) -> Result<char, Misfit> {
    let mut sum = 0;
    for (i, (c, weight)) in vin.iter().zip(WEIGHTS).enumerate() {
        // The ninth place weighs nothing, so only its form is checked.
        let value = value(*c).ok_or(Misfit::Character {
            found: *c,
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
    let all = characters(code)?;
    let wanted = check_digit(&all)?;
    let [first, _, _, _, _, _, _, _, ninth, ..] = all;
    if all.iter().all(|c| *c == first) {
        return Err(Misfit::Repeated);
    }
    same(ninth.to_ascii_uppercase(), wanted)
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
