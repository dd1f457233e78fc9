//! Times from the command line.

use gladhand_facts::Moment;

use crate::failure::Failure;

/// A time from the command line.
///
/// # Errors
/// When it is not an RFC 3339 time.
pub fn moment(flag: &str, given: &str) -> Result<Moment, Failure> {
    Moment::parse(given).map_err(|e| Failure::bad_input(format!("{flag}: {e}")))
}

/// As [`moment`], in microseconds since 1970.
///
/// # Errors
/// As [`moment`].
pub fn time(flag: &str, given: &str) -> Result<i64, Failure> {
    moment(flag, given).map(|at| at.unix_us())
}
