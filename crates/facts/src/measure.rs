//! Exact measures: what a tape, a drill stop or a torque wrench said, without rounding.
//!
//! A measure is a rational number of a unit. Comparing `3/4 in` with `19 mm` compares the exact values
//! (one inch is exactly 25.4 mm), so nothing near a limit is decided by a rounding error.
//!
//! Written forms: `3/4 in`, `1 3/4 in`, `1-3/4"`, `0.75in`, `19 mm`, `½ in`, `22 in·lbf`, `3 min`, `8`.
//! Not here: tolerances and bands (crate `trade`), nor any guess about a missing unit: a bare number is a count.

use std::cmp::Ordering;
use std::fmt;

use num_rational::Ratio;
use num_traits::{CheckedAdd, CheckedMul};
use serde_json::Value;

/// An exact rational number.
pub type Exact = Ratio<i128>;

/// What kind of quantity a measure is. Measures of different dimensions do not compare.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Dimension {
    /// Base unit: millimetre.
    Length,
    /// Base unit: newton metre.
    Torque,
    /// Base unit: second.
    Time,
    /// A bare number.
    Count,
}

/// The units that are understood.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Unit {
    /// Inch, exactly 25.4 mm.
    Inch,
    /// Foot, 12 in.
    Foot,
    /// Millimetre.
    Millimetre,
    /// Centimetre.
    Centimetre,
    /// Metre.
    Metre,
    /// Newton metre.
    NewtonMetre,
    /// Pound-force inch, exactly 0.1129848290276167 N·m (0.45359237 kg × 9.80665 m/s² × 0.0254 m).
    InchPoundForce,
    /// Second.
    Second,
    /// Minute.
    Minute,
    /// Hour.
    Hour,
    /// No unit: a count.
    One,
}

impl Unit {
    /// The unit's dimension.
    pub fn dimension(self) -> Dimension {
        match self {
            Self::Inch | Self::Foot | Self::Millimetre | Self::Centimetre | Self::Metre => Dimension::Length,
            Self::NewtonMetre | Self::InchPoundForce => Dimension::Torque,
            Self::Second | Self::Minute | Self::Hour => Dimension::Time,
            Self::One => Dimension::Count,
        }
    }

    /// The spelling used when a measure is shown.
    pub fn label(self) -> &'static str {
        match self {
            Self::Inch => "in",
            Self::Foot => "ft",
            Self::Millimetre => "mm",
            Self::Centimetre => "cm",
            Self::Metre => "m",
            Self::NewtonMetre => "N·m",
            Self::InchPoundForce => "in·lbf",
            Self::Second => "s",
            Self::Minute => "min",
            Self::Hour => "h",
            Self::One => "",
        }
    }

    /// How many base units one of this unit is.
    fn factor(self) -> Exact {
        let (numerator, denominator) = match self {
            Self::Inch => (254, 10),
            Self::Foot => (3048, 10),
            Self::Millimetre | Self::NewtonMetre | Self::Second | Self::One => (1, 1),
            Self::Centimetre => (10, 1),
            Self::Metre => (1000, 1),
            Self::InchPoundForce => (1_129_848_290_276_167, 10_000_000_000_000_000),
            Self::Minute => (60, 1),
            Self::Hour => (3600, 1),
        };
        Exact::new(numerator, denominator)
    }

    /// Reads a unit's spelling; case does not matter.
    pub fn parse(text: &str) -> Option<Self> {
        let folded: String = text
            .trim()
            .to_lowercase()
            .chars()
            .filter(|c| !matches!(c, ' ' | '.' | '-' | '·' | '*' | '⋅'))
            .collect();
        Some(match folded.as_str() {
            "in" | "inch" | "inches" | "\"" | "″" => Self::Inch,
            "ft" | "foot" | "feet" => Self::Foot,
            "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => Self::Millimetre,
            "cm" | "centimetre" | "centimetres" | "centimeter" | "centimeters" => Self::Centimetre,
            "m" | "metre" | "metres" | "meter" | "meters" => Self::Metre,
            "nm" | "newtonmetre" | "newtonmeter" => Self::NewtonMetre,
            "inlbf" | "lbfin" | "inlb" | "lbin" | "inlbs" => Self::InchPoundForce,
            "s" | "sec" | "second" | "seconds" => Self::Second,
            "min" | "minute" | "minutes" => Self::Minute,
            "h" | "hr" | "hour" | "hours" => Self::Hour,
            "" | "count" | "pieces" | "pcs" | "ea" => Self::One,
            _ => return None,
        })
    }
}

/// Why a text is not a measure.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MeasureError {
    /// No number where one must stand.
    #[error("'{0}' is not a measure: write a number and a unit, such as '3/4 in', '1 3/4 in' or '19 mm'")]
    NotANumber(String),
    /// The unit is not one that is understood.
    #[error("unknown unit '{0}': use in, ft, mm, cm, m, N·m, in·lbf, s, min or h")]
    UnknownUnit(String),
    /// A denominator of zero.
    #[error("'{0}' divides by zero")]
    ZeroDenominator(String),
    /// More digits than any tape has.
    #[error("'{0}' has too many digits for a measure (at most 9 before and 9 behind the point)")]
    TooManyDigits(String),
    /// Two units that contradict each other, one in the text and one beside it.
    #[error("'{text}' carries its own unit, and it is not '{unit}'")]
    TwoUnits {
        /// The text with the unit inside.
        text: String,
        /// The unit beside it.
        unit: String,
    },
}

/// An exact quantity with the unit it was given in.
#[derive(Debug, Clone, Copy)]
pub struct Measure {
    value: Exact,
    unit: Unit,
}

impl Measure {
    /// A measure from an exact number of `unit`.
    pub fn new(value: Exact, unit: Unit) -> Self {
        Self { value, unit }
    }

    /// `numerator/denominator` of `unit`; a denominator of zero counts as one.
    pub fn ratio(numerator: i64, denominator: i64, unit: Unit) -> Self {
        let denominator = if denominator == 0 { 1 } else { denominator };
        Self::new(Exact::new(i128::from(numerator), i128::from(denominator)), unit)
    }

    /// Reads a written measure, number and unit together.
    ///
    /// # Errors
    /// [`MeasureError`], with the text that could not be read.
    pub fn parse(text: &str) -> Result<Self, MeasureError> {
        let text = text.trim();
        let split = text
            .char_indices()
            .find(|(_, c)| c.is_alphabetic() || matches!(c, '"' | '″'))
            .map(|(i, _)| i);
        let (number, unit) = text.split_at_checked(split.unwrap_or(text.len())).unwrap_or((text, ""));
        let value = parse_number(number.trim_end_matches(['·', '*']))?;
        let unit = Unit::parse(unit).ok_or_else(|| MeasureError::UnknownUnit(clip(unit)))?;
        Ok(Self { value, unit })
    }

    /// Reads a JSON number or text, with the unit that stands beside it, if any.
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
            Ok(Self {
                unit: beside_unit,
                ..inner
            })
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

    /// The exact value in the base unit of its dimension (mm, N·m, s, 1).
    pub fn base(&self) -> Exact {
        // Bounded digits keep the product far below the range; a made-up value beyond it saturates.
        self.value
            .checked_mul(&self.unit.factor())
            .unwrap_or_else(|| Exact::from_integer(i128::MAX))
    }

    /// The sum, in the unit of `self`; `None` when the dimensions differ.
    pub fn plus(&self, other: &Self) -> Option<Self> {
        self.combine(other, |a, b| a.checked_add(&b))
    }

    /// The difference, in the unit of `self`; `None` when the dimensions differ.
    pub fn minus(&self, other: &Self) -> Option<Self> {
        self.combine(other, |a, b| a.checked_add(&-b))
    }

    fn combine(&self, other: &Self, with: impl Fn(Exact, Exact) -> Option<Exact>) -> Option<Self> {
        if self.dimension() != other.dimension() {
            return None;
        }
        let base = with(self.base(), other.base())?;
        Some(Self {
            value: base.checked_mul(&self.unit.factor().recip())?,
            unit: self.unit,
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
            write!(f, "{}", decimal(&self.value))?;
        }
        if self.unit == Unit::One {
            Ok(())
        } else {
            write!(f, " {}", self.unit.label())
        }
    }
}

/// A decimal spelling with up to six digits, rounded half away from zero, only for showing.
fn decimal(value: &Exact) -> String {
    const SCALE: i128 = 1_000_000;
    let scaled = value
        .checked_mul(&Exact::from_integer(SCALE))
        .map_or(i128::MAX, |v| v.round().to_integer());
    let sign = if scaled < 0 { "-" } else { "" };
    let (whole, rest) = (
        scaled.unsigned_abs() / SCALE.unsigned_abs(),
        scaled.unsigned_abs() % SCALE.unsigned_abs(),
    );
    let digits = format!("{rest:06}");
    let digits = digits.trim_end_matches('0');
    if digits.is_empty() {
        format!("{sign}{whole}")
    } else {
        format!("{sign}{whole}.{digits}")
    }
}

fn parse_number(text: &str) -> Result<Exact, MeasureError> {
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
    let scale = 10i128.pow(u32::try_from(behind.len()).unwrap_or(9).min(9));
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

fn clip(text: &str) -> String {
    text.chars().take(60).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn m(text: &str) -> Measure {
        Measure::parse(text).unwrap_or_else(|e| panic!("{text}: {e}"))
    }

    /// Written forms of the contract §2; the inch is exactly 25.4 mm (international yard and pound agreement, 1959).
    #[test]
    fn written_forms_are_exact() {
        assert_eq!(m("3/4 in"), m("0.75in"));
        assert_eq!(m("3/4 in"), m("19.05 mm"));
        assert_eq!(m("1 3/4 in"), m("44.45 mm"));
        assert_eq!(m("1-3/4\""), m("1¾ in"));
        assert_eq!(m("½ in"), m("12.7 mm"));
        assert_eq!(m("1 in"), m("2.54 cm"));
        assert_eq!(m(".5 in"), m("0.5 IN"));
        assert!(m("19 mm") < m("3/4 in"));
        assert!(m("1/32 in") > m("0.79 mm"));
        assert_eq!(m("8").dimension(), Dimension::Count);
    }

    /// 1 lbf·in = 0.1129848 N·m (NIST SP 811, appendix B.8, rounded there to seven digits).
    #[test]
    fn torque_converts_by_the_published_factor() {
        let difference = m("1 in·lbf").minus(&m("0.1129848 N·m")).unwrap().base();
        assert!(
            difference < Exact::new(1, 10_000_000) && difference > Exact::new(-1, 10_000_000),
            "{difference}"
        );
        assert!(m("25 lbf-in") < m("2.9 Nm"));
    }

    #[test]
    fn bad_measures_say_why() {
        assert!(matches!(Measure::parse("3/4 furlong"), Err(MeasureError::UnknownUnit(u)) if u == "furlong"));
        assert!(matches!(Measure::parse("in"), Err(MeasureError::NotANumber(_))));
        assert!(matches!(Measure::parse(""), Err(MeasureError::NotANumber(_))));
        assert!(matches!(
            Measure::parse("1/0 in"),
            Err(MeasureError::ZeroDenominator(_))
        ));
        assert!(matches!(
            Measure::parse("12345678901 mm"),
            Err(MeasureError::TooManyDigits(_))
        ));
        assert!(matches!(Measure::parse("1.2.3 mm"), Err(MeasureError::NotANumber(_))));
        assert!(matches!(Measure::parse("1e3 mm"), Err(MeasureError::UnknownUnit(_))));
        let both = Measure::from_json(&serde_json::json!("3 in"), Some("mm"));
        assert!(matches!(both, Err(MeasureError::TwoUnits { .. })));
    }

    #[test]
    fn a_number_takes_the_unit_beside_it() {
        let read = |v: Value, u| Measure::from_json(&v, u).unwrap();
        assert_eq!(read(serde_json::json!(0.75), Some("in")), m("3/4 in"));
        assert_eq!(read(serde_json::json!("3/4"), Some("in")), m("3/4 in"));
        assert_eq!(read(serde_json::json!("3/4 in"), Some("inch")), m("3/4 in"));
        assert_eq!(read(serde_json::json!(8), None), m("8"));
    }

    #[test]
    fn shown_as_a_person_would_write_it() {
        for text in [
            "3/4 in",
            "1 3/4 in",
            "19 mm",
            "0.1 mm",
            "22 in·lbf",
            "8",
            "-1/2 in",
            "3 min",
        ] {
            assert_eq!(m(text).to_string(), text);
        }
        assert_eq!(m("1/3 in").to_string(), "0.333333 in");
    }

    proptest! {
        #[test]
        fn no_text_panics(text in "\\PC{0,20}") {
            let _ = Measure::parse(&text);
        }

        #[test]
        fn shown_inches_read_back(n in -6400i64..6400, shift in 0u32..7) {
            let measure = Measure::ratio(n, 1 << shift, Unit::Inch);
            prop_assert_eq!(m(&measure.to_string()), measure);
        }

        #[test]
        fn inch_and_millimetre_agree(n in 0i64..100_000) {
            // n/64 in is exactly n * 0.396875 mm, six decimals: both spellings must be the same quantity.
            let micro = i128::from(n) * 396_875;
            let mm = format!("{}.{:06} mm", micro / 1_000_000, micro % 1_000_000);
            prop_assert_eq!(Measure::ratio(n, 64, Unit::Inch), m(&mm));
        }
    }
}
