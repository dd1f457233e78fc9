//! The check digit of an IMEI (3GPP TS 23.003 annex B): 14 digits and Luhn's digit over them.
//!
//! What a network transmits has a 0 in the last place, and the form with a software version has 16 digits and no
//! check digit. Labels show neither, so neither fits.

use super::digits::{check_last_digit, digit_char, digits};
use super::luhn;
use super::misfit::Misfit;

const WANTED: &str = "an IMEI on a label has 15 digits, the last of them the check digit";

/// The check digit for the first 14 digits.
///
/// # Errors
/// [`Misfit`] when there are not 14, or not only digits.
pub fn check_character(body: &str) -> Result<char, Misfit> {
    let body = digits(body)?;
    match body.len() {
        14 => Ok(digit_char(luhn::check_digit(&body))),
        found => Err(Misfit::Length {
            found,
            wanted: "an IMEI has 14 digits before the check digit",
        }),
    }
}

/// Whether the 15th digit fits the others.
///
/// # Errors
/// [`Misfit`], saying what does not fit.
pub fn check(code: &str) -> Result<(), Misfit> {
    let all = digits(code)?;
    match all.len() {
        15 => check_last_digit(&all, luhn::check_digit),
        found => Err(Misfit::Length { found, wanted: WANTED }),
    }
}
