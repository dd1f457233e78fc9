//! Exact measures: what a tape, a drill stop or a torque wrench said, without rounding.
//!
//! A measure is a rational number of a unit. Comparing `3/4 in` with `19 mm` compares the exact values
//! (one inch is exactly 25.4 mm), so nothing near a limit is decided by a rounding error.
//!
//! Written forms: `3/4 in`, `1 3/4 in`, `1-3/4"`, `0.75in`, `19 mm`, `½ in`, `22 in·lbf`, `3 min`, `18 °C`, `8`.
//! Not here: tolerances and bands (crate `trade`), nor any guess about a missing unit: a bare number is a count.

use std::cmp::Ordering;
use std::fmt;

use num_traits::{CheckedAdd, CheckedMul};
use serde_json::Value;

mod error;
mod number;
mod unit;

pub use error::MeasureError;
pub use number::Exact;
use number::{clip, decimal, parse_number};
pub use unit::{Dimension, Unit};

/// An exact quantity with the unit it was given in.
#[derive(Debug, Clone, Copy)]
pub struct Measure {
    value: Exact,
    unit: Unit,
    /// `value` in the base unit of its dimension.
    base: Exact,
}

impl Measure {
    /// `None` when the value in the base unit has too many digits to be exact in 128 bits.
    fn new(value: Exact, unit: Unit) -> Option<Self> {
        let base = value.checked_add(&-unit.zero())?.checked_mul(&unit.factor())?;
        Some(Self { value, unit, base })
    }

    /// A time. Seconds are its base unit, so every exact number will do.
    pub fn of_seconds(value: Exact) -> Self {
        Self {
            value,
            unit: Unit::Second,
            base: value,
        }
    }

    /// `numerator/denominator` of `unit`; `None` for a denominator of zero, or for too many digits.
    pub fn ratio(numerator: i64, denominator: i64, unit: Unit) -> Option<Self> {
        if denominator == 0 {
            return None;
        }
        Self::new(Exact::new(i128::from(numerator), i128::from(denominator)), unit)
    }

    /// Reads a written measure, number and unit together.
    ///
    /// # Errors
    /// [`MeasureError`], with the text that could not be read.
    pub fn parse(text: &str) -> Result<Self, MeasureError> {
        let text = text.trim();
        let begins_unit = |c: char| c.is_alphabetic() || matches!(c, '"' | '″' | '°');
        let (number, unit) = text.split_at(text.find(begins_unit).unwrap_or(text.len()));
        let value = parse_number(number.trim_end_matches(['·', '*']))?;
        let unit = Unit::parse(unit).ok_or_else(|| MeasureError::UnknownUnit(clip(unit)))?;
        Self::new(value, unit).ok_or_else(|| MeasureError::TooManyDigits(clip(text)))
    }

    /// Reads a JSON number or text, with the unit given beside it, if any.
    ///
    /// # Errors
    /// [`MeasureError`]; [`MeasureError::TwoUnits`] when the text names one unit and `unit` another.
    pub fn from_json(value: &Value, unit: Option<&str>) -> Result<Self, MeasureError> {
        let text = match value {
            Value::Number(n) => n.to_string(),
            Value::String(s) => s.trim().to_owned(),
            other => return Err(MeasureError::NotANumber(clip(&other.to_string()))),
        };
        let inner = Self::parse(&text)?;
        let Some(beside) = unit.map(str::trim).filter(|u| !u.is_empty()) else {
            return Ok(inner);
        };
        let beside_unit = Unit::parse(beside).ok_or_else(|| MeasureError::UnknownUnit(clip(beside)))?;
        if inner.unit == Unit::One || inner.unit == beside_unit {
            Self::new(inner.value, beside_unit).ok_or_else(|| MeasureError::TooManyDigits(clip(&text)))
        } else {
            Err(MeasureError::TwoUnits {
                text: clip(&text),
                unit: clip(beside),
            })
        }
    }

    /// The unit it was given in.
    pub fn unit(&self) -> Unit {
        self.unit
    }

    /// The number, in the unit it was given in.
    pub fn value(&self) -> Exact {
        self.value
    }

    /// Its dimension.
    pub fn dimension(&self) -> Dimension {
        self.unit.dimension()
    }

    /// The exact value in the base unit of its dimension (mm, N·m, s, °C, 1).
    pub fn base(&self) -> Exact {
        self.base
    }

    /// The sum, in the unit of `self` (of no meaning for temperatures); `None` when the dimensions differ, or for too many digits.
    pub fn plus(&self, other: &Self) -> Option<Self> {
        self.combine(other, |a, b| a.checked_add(&b))
    }

    /// The difference, in the unit of `self`; `None` when the dimensions differ, or for too many digits.
    pub fn minus(&self, other: &Self) -> Option<Self> {
        self.combine(other, |a, b| a.checked_add(&-b))
    }

    fn combine(&self, other: &Self, with: impl Fn(Exact, Exact) -> Option<Exact>) -> Option<Self> {
        if self.dimension() != other.dimension() {
            return None;
        }
        let base = with(self.base, other.base)?;
        Some(Self {
            value: base
                .checked_mul(&self.unit.factor().recip())?
                .checked_add(&self.unit.zero())?,
            unit: self.unit,
            base,
        })
    }
}

/// Equal when the exact quantities are equal, whatever the units: `3/4 in` equals `19.05 mm`.
impl PartialEq for Measure {
    fn eq(&self, other: &Self) -> bool {
        self.partial_cmp(other) == Some(Ordering::Equal)
    }
}

/// `None` between different dimensions.
impl PartialOrd for Measure {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        (self.dimension() == other.dimension()).then(|| self.base().cmp(&other.base()))
    }
}

impl fmt::Display for Measure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (numerator, denominator) = (*self.value.numer(), *self.value.denom());
        if denominator == 1 {
            write!(f, "{numerator}")?;
        } else if self.unit == Unit::Inch && denominator <= 64 && denominator & (denominator - 1) == 0 {
            let (whole, rest) = (numerator / denominator, (numerator % denominator).abs());
            match (whole, numerator < 0) {
                (0, false) => write!(f, "{rest}/{denominator}")?,
                (0, true) => write!(f, "-{rest}/{denominator}")?,
                _ => write!(f, "{whole} {rest}/{denominator}")?,
            }
        } else {
            match decimal(&self.value) {
                Some(decimal) => f.write_str(&decimal)?,
                None => write!(f, "{numerator}/{denominator}")?,
            }
        }
        if self.unit == Unit::One {
            Ok(())
        } else {
            write!(f, " {}", self.unit.label())
        }
    }
}

#[cfg(test)]
#[path = "measure_tests.rs"]
mod tests;
