//! Why a line is not a fact.

use super::keys::{FILLED, MAX_DEPTH, MAX_LINE_BYTES};
use crate::measure::MeasureError;
use crate::moment::MomentError;

/// Why a line is not a fact.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FactError {
    /// The line is longer than [`MAX_LINE_BYTES`].
    #[error("the line has {bytes} bytes; a fact has at most {MAX_LINE_BYTES}")]
    TooLong {
        /// Its length.
        bytes: usize,
    },
    /// Nested deeper than [`MAX_DEPTH`].
    #[error("`{key}` is nested deeper than {MAX_DEPTH} levels")]
    TooDeep {
        /// The key.
        key: String,
    },
    /// Not JSON.
    #[error("not JSON: {0}")]
    NotJson(String),
    /// JSON, but not an object.
    #[error("not a JSON object: a fact is written {{\"kind\": …}}")]
    NotAnObject,
    /// A key appears twice in one object.
    #[error("`{key}` appears twice: one line is one fact, so write two lines")]
    Twice {
        /// The key.
        key: String,
    },
    /// No `kind`, or not a text.
    #[error("no `kind`: say what the fact is, such as \"kind\": \"link\"")]
    NoKind,
    /// A key that this kind needs is missing.
    #[error("a {kind} needs `{key}`")]
    Missing {
        /// The kind of fact.
        kind: String,
        /// The key.
        key: String,
    },
    /// A key holds something of the wrong type.
    #[error("`{key}` must be {wanted}, not {found}")]
    WrongType {
        /// The key.
        key: String,
        /// What the key must hold.
        wanted: &'static str,
        /// What the line has.
        found: String,
    },
    /// A key holds a word outside its closed list.
    #[error("`{key}` is '{found}'; it must be one of: {allowed}")]
    UnknownWord {
        /// The key.
        key: String,
        /// What the line has.
        found: String,
        /// The words that are allowed.
        allowed: String,
    },
    /// A code of which nothing is left once spaces, dashes and the like are set aside.
    #[error("`{key}` is '{found}', which names nothing: a code has letters or digits")]
    NoCode {
        /// The key.
        key: String,
        /// What the line has.
        found: String,
    },
    /// A key holds a bad date.
    #[error("`{key}` is '{found}', not a date such as 2026-03-02")]
    Date {
        /// The key.
        key: String,
        /// What the line has.
        found: String,
    },
    /// A key holds a bad time.
    #[error("`{key}`: {source}")]
    Time {
        /// The key.
        key: String,
        /// What is wrong with it.
        source: MomentError,
    },
    /// A key holds a bad measure.
    #[error("`{key}`: {source}")]
    Measure {
        /// The key.
        key: String,
        /// What is wrong with it.
        source: MeasureError,
    },
    /// A number that would lose digits.
    #[error("the number {0} has more digits than can be carried exactly: write it as text, in quotes")]
    Number(String),
    /// The reserved key.
    #[error("`{FILLED}` is reserved: it lists what the device added")]
    Reserved,
}
