//! The check digit of GS1's numeric keys (GS1 General Specifications, "check digit calculation"): weights 3 and 1
//! from the right.
//!
//! It catches every single wrong digit, and every swap of neighbours except of two that differ by five (`05`/`50`,
//! `16`/`61`, `27`/`72`, `38`/`83`, `49`/`94`).

use super::digits::{check_last_digit, digit_char, digits};
use super::misfit::Misfit;

/// The lengths of the keys: GTIN-8, -12, -13 (and GLN), -14, GSIN, SSCC (and GSRN).
const LENGTHS: [usize; 6] = [8, 12, 13, 14, 17, 18];

/// The check digit for a body of digits, of any length.
///
/// # Errors
/// [`Misfit::Character`] when it has anything but digits.
pub fn check_character(body: &str) -> Result<char, Misfit> {
    digits(body).map(|d| digit_char(check_digit(&d)))
}

/// Whether the last digit fits the others, and the length is one that a key has.
///
/// # Errors
/// [`Misfit`], saying what does not fit.
pub fn check(code: &str) -> Result<(), Misfit> {
    let all = digits(code)?;
    if LENGTHS.contains(&all.len()) {
        check_last_digit(&all, check_digit)
    } else {
        Err(Misfit::Length {
            found: all.len(),
            wanted: "GS1 keys have 8, 12, 13, 14, 17 or 18 digits",
        })
    }
}

fn check_digit(body: &[u32]) -> u32 {
    let sum: u32 = body
        .iter()
        .rev()
        .enumerate()
        .map(|(i, d)| if i % 2 == 0 { d * 3 } else { *d })
        .sum();
    (10 - sum % 10) % 10
}
