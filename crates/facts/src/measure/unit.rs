//! The units that are understood, and how many base units one of each is.

use super::number::Exact;

/// What kind of quantity a measure is. Measures of different dimensions do not compare.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Dimension {
    /// Base unit: millimetre.
    Length,
    /// Base unit: newton metre.
    Torque,
    /// Base unit: second.
    Time,
    /// Base unit: degree Celsius. A temperature, not a difference of two.
    Temperature,
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
    /// Degree Celsius.
    Celsius,
    /// Degree Fahrenheit, whose zero is 32 degrees below that of the Celsius scale: °C = (°F − 32) × 5/9.
    Fahrenheit,
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
            Self::Celsius | Self::Fahrenheit => Dimension::Temperature,
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
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
            Self::One => "",
        }
    }

    /// How many base units one of this unit is.
    pub(super) fn factor(self) -> Exact {
        let (numerator, denominator) = match self {
            Self::Inch => (254, 10),
            Self::Foot => (3048, 10),
            Self::Millimetre | Self::NewtonMetre | Self::Second | Self::Celsius | Self::One => (1, 1),
            Self::Centimetre => (10, 1),
            Self::Metre => (1000, 1),
            Self::InchPoundForce => (1_129_848_290_276_167, 10_000_000_000_000_000),
            Self::Minute => (60, 1),
            Self::Hour => (3600, 1),
            Self::Fahrenheit => (5, 9),
        };
        Exact::new(numerator, denominator)
    }

    /// The value at which the scale of the base unit has its zero.
    pub(super) fn zero(self) -> Exact {
        Exact::from_integer(if self == Self::Fahrenheit { 32 } else { 0 })
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
            "°c" | "c" | "degc" | "celsius" => Self::Celsius,
            "°f" | "f" | "degf" | "fahrenheit" => Self::Fahrenheit,
            "" | "count" | "pieces" | "pcs" | "ea" => Self::One,
            _ => return None,
        })
    }
}
