//! Times from the command line: RFC 3339, or a day by its date or as `today` and `yesterday`, in the zone of this machine.

use gladhand_facts::Moment;
use gladhand_node::environment::{now_us, offset_s, parse_day};

use crate::failure::Failure;

const DAY_US: i64 = 86_400_000_000;

/// Which end of a day is meant where a day is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// From its beginning on.
    Beginning,
    /// Up to its end.
    End,
}

/// A time from the command line.
///
/// # Errors
/// When it is neither an RFC 3339 time nor a day.
pub fn moment(flag: &str, given: &str, end: End) -> Result<Moment, Failure> {
    let given = given.trim();
    if let Some(midnight_us) = day(given) {
        let midnight_us = match end {
            End::Beginning => midnight_us,
            End::End => midnight_us + DAY_US,
        };
        let at_us = in_this_zone(midnight_us);
        return Ok(Moment::from_unix_us(at_us, offset_s(at_us)));
    }
    Moment::parse(given).map_err(|e| {
        Failure::bad_input(format!("{flag}: {e}")).hint("Or write a date such as 2026-03-02, today or yesterday.")
    })
}

/// As [`moment`], in microseconds since 1970.
///
/// # Errors
/// As [`moment`].
pub fn time(flag: &str, given: &str, end: End) -> Result<i64, Failure> {
    moment(flag, given, end).map(|at| at.unix_us())
}

/// The midnight with which a day begins, as if it were in UTC.
fn day(given: &str) -> Option<i64> {
    let now_us = now_us();
    let today_us = (now_us + i64::from(offset_s(now_us)) * 1_000_000).div_euclid(DAY_US) * DAY_US;
    match given.to_ascii_lowercase().as_str() {
        "today" => Some(today_us),
        "yesterday" => Some(today_us - DAY_US),
        date => parse_day(date),
    }
}

/// The moment at which clocks of this zone show that.
fn in_this_zone(shown_us: i64) -> i64 {
    let offset_us = |at_us: i64| i64::from(offset_s(at_us)) * 1_000_000;
    // The offset at the moment itself: it may differ from the one at that time in UTC.
    shown_us - offset_us(shown_us - offset_us(shown_us))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_has_two_ends_and_a_time_has_none() {
        let (begins, ends) = (
            time("--from", "2026-03-02", End::Beginning).unwrap(),
            time("--to", "2026-03-02", End::End).unwrap(),
        );
        assert_eq!(begins % 900_000_000, 0, "zones differ by quarters of an hour");
        assert!([23, 24, 25].contains(&((ends - begins) / 3_600_000_000)));
        let today = time("--from", "Today", End::Beginning).unwrap();
        assert!(today <= now_us() && time("--from", "yesterday", End::Beginning).unwrap() < today);
        let at = "2026-03-02T10:14:00-05:00";
        assert_eq!(
            time("--from", at, End::Beginning).unwrap(),
            time("--to", at, End::End).unwrap()
        );
        for wrong in ["2026-02-30", "yesterdayish", "", "2026-3-2"] {
            let failure = moment("--from", wrong, End::Beginning).unwrap_err().to_string();
            assert!(failure.contains("--from") && failure.contains("yesterday"), "{failure}");
        }
    }
}
