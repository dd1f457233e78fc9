//! Exact numbers: how they are read, and how they are shown.

use num_rational::Ratio;
use num_traits::{CheckedAdd, CheckedMul};

use super::error::MeasureError;

/// An exact rational number.
pub type Exact = Ratio<i128>;

/// A decimal spelling with up to six digits, rounded half away from zero, only for showing. `None` for a number with so
/// many digits that the rounding itself would not fit.
pub(super) fn decimal(value: &Exact) -> Option<String> {
    const SCALE: i128 = 1_000_000;
    let scaled = value.checked_mul(&Exact::from_integer(SCALE))?.round().to_integer();
    let sign = if scaled < 0 { "-" } else { "" };
    let (whole, rest) = (
        scaled.unsigned_abs() / SCALE.unsigned_abs(),
        scaled.unsigned_abs() % SCALE.unsigned_abs(),
    );
    let digits = format!("{rest:06}");
    let digits = digits.trim_end_matches('0');
    Some(if digits.is_empty() {
        format!("{sign}{whole}")
    } else {
        format!("{sign}{whole}.{digits}")
    })
}

/// Reads a number without its unit: whole, decimal, a fraction, or a whole number and a fraction.
pub(super) fn parse_number(text: &str) -> Result<Exact, MeasureError> {
    let whole_text = text.trim();
    let (sign, rest) = match whole_text.strip_prefix(['-', '−']) {
        Some(rest) => (-1, rest.trim_start()),
        None => (1, whole_text.strip_prefix('+').unwrap_or(whole_text)),
    };
    let rest = spell_out_fraction(rest);
    let magnitude = match rest.split_once([' ', '-']) {
        Some((whole, fraction)) => {
            let whole = parse_digits(whole, whole_text)?;
            let fraction = parse_fraction(fraction.trim(), whole_text)?;
            whole
                .checked_add(&fraction)
                .ok_or_else(|| MeasureError::TooManyDigits(clip(whole_text)))?
        }
        None if rest.contains('/') => parse_fraction(&rest, whole_text)?,
        None => parse_decimal(&rest, whole_text)?,
    };
    Ok(magnitude * Exact::from_integer(sign))
}

/// Turns `1½` and `½` into `1 1/2` and `1/2`.
fn spell_out_fraction(text: &str) -> String {
    const SIGNS: [(char, &str); 7] = [
        ('½', "1/2"),
        ('¼', "1/4"),
        ('¾', "3/4"),
        ('⅛', "1/8"),
        ('⅜', "3/8"),
        ('⅝', "5/8"),
        ('⅞', "7/8"),
    ];
    let mut out = text.trim().replace('⁄', "/");
    for (sign, spelled) in SIGNS {
        if let Some(whole) = out.strip_suffix(sign) {
            out = format!("{} {spelled}", whole.trim()).trim().to_owned();
        }
    }
    out
}

fn parse_fraction(text: &str, whole_text: &str) -> Result<Exact, MeasureError> {
    let (top, bottom) = text
        .split_once('/')
        .ok_or_else(|| MeasureError::NotANumber(clip(whole_text)))?;
    let top = parse_digits(top.trim(), whole_text)?;
    let bottom = parse_digits(bottom.trim(), whole_text)?;
    if *bottom.numer() == 0 {
        Err(MeasureError::ZeroDenominator(clip(whole_text)))
    } else {
        Ok(top / bottom)
    }
}

fn parse_decimal(text: &str, whole_text: &str) -> Result<Exact, MeasureError> {
    let Some((whole, behind)) = text.split_once('.') else {
        return parse_digits(text, whole_text);
    };
    if whole.is_empty() && behind.is_empty() {
        return Err(MeasureError::NotANumber(clip(whole_text)));
    }
    let whole = if whole.is_empty() {
        Exact::from_integer(0)
    } else {
        parse_digits(whole, whole_text)?
    };
    if behind.is_empty() {
        return Ok(whole);
    }
    let digits = parse_digits(behind, whole_text)?;
    // At most nine digits, which has just been checked.
    let scale = behind.bytes().fold(1, |scale, _| scale * 10);
    Ok(whole + digits / Exact::from_integer(scale))
}

fn parse_digits(text: &str, whole_text: &str) -> Result<Exact, MeasureError> {
    if text.is_empty() || !text.bytes().all(|b| b.is_ascii_digit()) {
        return Err(MeasureError::NotANumber(clip(whole_text)));
    }
    if text.len() > 9 {
        return Err(MeasureError::TooManyDigits(clip(whole_text)));
    }
    text.parse()
        .map(Exact::from_integer)
        .map_err(|_| MeasureError::NotANumber(clip(whole_text)))
}

/// The beginning of a text, for an error message.
pub(super) fn clip(text: &str) -> String {
    text.chars().take(60).collect()
}
