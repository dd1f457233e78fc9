//! Codes of decimal digits, whose last digit is the check digit.

use super::misfit::{Misfit, same};

/// The decimal digits of a code, without the blanks and hyphens that group them.
pub(super) fn digits(code: &str) -> Result<Vec<u32>, Misfit> {
    let grouped = code.chars().enumerate().filter(|(_, c)| !matches!(c, ' ' | '-'));
    grouped
        .map(|(i, found)| {
            found.to_digit(10).ok_or(Misfit::Character {
                found,
                place: i + 1,
                allowed: "only digits belong there",
            })
        })
        .collect()
}

/// Compares the last digit with what `rule` makes of the others.
pub(super) fn check_last_digit(digits: &[u32], rule: impl Fn(&[u32]) -> u32) -> Result<(), Misfit> {
    let Some((found, body)) = digits.split_last().filter(|(_, body)| !body.is_empty()) else {
        return Err(Misfit::Length {
            found: digits.len(),
            wanted: "a code and its check digit have at least 2",
        });
    };
    same(digit_char(*found), digit_char(rule(body)))
}

/// The character of a digit: the last decimal digit of the number.
pub(super) fn digit_char(digit: u32) -> char {
    char::from(b'0' + (digit % 10) as u8)
}
