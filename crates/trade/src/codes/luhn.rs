//! Luhn's check digit (ISO/IEC 7812-1 annex B): from the right, every second digit is doubled.
//!
//! It catches every single wrong digit. It does not catch `09` and `90` swapped, nor `22`/`55`, `33`/`66`, `44`/`77`.

use super::digits::{check_last_digit, digit_char, digits};
use super::misfit::Misfit;

/// The check digit for a body of digits.
///
/// # Errors
/// [`Misfit::Character`] when it has anything but digits.
pub fn check_character(body: &str) -> Result<char, Misfit> {
    digits(body).map(|d| digit_char(check_digit(&d)))
}

/// Whether the last digit fits the others.
///
/// # Errors
/// [`Misfit`], saying what does not fit.
pub fn check(code: &str) -> Result<(), Misfit> {
    check_last_digit(&digits(code)?, check_digit)
}

pub(crate) fn check_digit(body: &[u32]) -> u32 {
    let sum: u32 = body
        .iter()
        .rev()
        .enumerate()
        .map(|(i, d)| if i % 2 == 0 { doubled(*d) } else { *d })
        .sum();
    (10 - sum % 10) % 10
}

/// The digit sum of twice the digit.
fn doubled(digit: u32) -> u32 {
    let twice = digit * 2;
    twice / 10 + twice % 10
}
