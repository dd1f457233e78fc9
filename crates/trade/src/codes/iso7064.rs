//! ISO/IEC 7064 MOD 37,36: the hybrid system for letters and digits.
//!
//! It catches every single wrong character and nearly every swap of neighbours: of 630 pairs of different characters it
//! misses one, another one after each carry (a test counts them).

use super::misfit::{Misfit, same};

const SIZE: u32 = 36;

/// The check character for a body of digits and letters.
///
/// # Errors
/// [`Misfit::Character`] when it has anything else.
pub fn check_character(body: &str) -> Result<char, Misfit> {
    // Chosen so that the last sum, with the check character, is 1 modulo 36.
    let wanted = (SIZE + 1 - carried(body)?) % SIZE;
    Ok(char::from(match wanted as u8 {
        digit @ 0..=9 => b'0' + digit,
        letter => b'A' + (letter - 10),
    }))
}

/// Whether the last character fits the others.
///
/// # Errors
/// [`Misfit`], saying what does not fit.
pub fn check(code: &str) -> Result<(), Misfit> {
    let mut body = code.chars();
    match body.next_back() {
        Some(found) if !body.as_str().is_empty() => same(found.to_ascii_uppercase(), check_character(body.as_str())?),
        _ => Err(Misfit::Length {
            found: code.chars().count(),
            wanted: "a code and its check character have at least 2",
        }),
    }
}

/// The sum that is carried to the check character: 1 to 36.
fn carried(body: &str) -> Result<u32, Misfit> {
    let mut carry = SIZE;
    for (i, found) in body.chars().enumerate() {
        let value = found.to_digit(SIZE).ok_or(Misfit::Character {
            found,
            place: i + 1,
            allowed: "only digits and the letters A to Z belong there",
        })?;
        carry = step(carry, value);
    }
    Ok(carry)
}

/// Adds modulo 36, where 0 counts as 36, then doubles modulo 37.
pub(crate) fn step(carry: u32, value: u32) -> u32 {
    let sum = match (carry + value) % SIZE {
        0 => SIZE,
        sum => sum,
    };
    sum * 2 % (SIZE + 1)
}
