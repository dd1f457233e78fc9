//! Why a text is not a measure.

/// Why a text is not a measure.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MeasureError {
    /// There is no number in it.
    #[error("'{0}' is not a measure: write a number and a unit, such as '3/4 in', '1 3/4 in' or '19 mm'")]
    NotANumber(String),
    /// A unit that is not known.
    #[error("unknown unit '{0}': use in, ft, mm, cm, m, N·m, in·lbf, s, min, h, °C or °F")]
    UnknownUnit(String),
    /// A denominator of zero.
    #[error("'{0}' divides by zero")]
    ZeroDenominator(String),
    /// More digits than a measure may have.
    #[error("'{0}' has too many digits for a measure (at most 9 before and 9 after the decimal point)")]
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
