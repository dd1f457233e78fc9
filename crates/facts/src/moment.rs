//! A time as somebody wrote it (RFC 3339 with an offset), together with the instant that it names.
//!
//! Times compare by instant and are shown as written: 22:14 in a yard stays 22:14 in that yard's zone. Only the grammar of
//! RFC 3339 §5.6 is read (a date alone, a missing offset or a zone name in brackets is refused); the calendar is
//! jiff's. A leap second counts as the second before it, as POSIX clocks do.

use std::cmp::Ordering;
use std::fmt;

use jiff::Timestamp;
use jiff::tz::{Offset, TimeZone};

/// An instant and the text that named it.
#[derive(Debug, Clone)]
pub struct Moment {
    text: String,
    unix_us: i64,
    offset_s: i32,
}

/// Why a text is not a moment.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MomentError {
    /// A date and time, but no offset from UTC.
    #[error("'{0}' has no offset from UTC: end it with Z or with an offset such as -04:00")]
    NoOffset(String),
    /// Not of the form of RFC 3339.
    #[error("'{0}' is not an RFC 3339 time such as 2026-03-02T22:14:05-05:00")]
    Shape(String),
    /// The right form, but no such day or time.
    #[error("'{text}' is not a time that exists: {why}")]
    NoSuchTime {
        /// What was written.
        text: String,
        /// What the calendar says.
        why: String,
    },
}

impl Moment {
    /// Reads an RFC 3339 time.
    ///
    /// # Errors
    /// [`MomentError`], naming what is missing or wrong.
    pub fn parse(text: &str) -> Result<Self, MomentError> {
        let text = text.trim();
        let clipped = || text.chars().take(60).collect::<String>();
        let offset_s = match shape(text) {
            Shape::Full { offset_s } => offset_s,
            Shape::NoOffset => return Err(MomentError::NoOffset(clipped())),
            Shape::Other => return Err(MomentError::Shape(clipped())),
        };
        let upper = without_finest(&text.to_ascii_uppercase().replacen(' ', "T", 1));
        let instant: Timestamp = upper.parse().map_err(|e: jiff::Error| MomentError::NoSuchTime {
            text: clipped(),
            why: e.to_string(),
        })?;
        Ok(Self {
            text: text.to_owned(),
            unix_us: instant.as_microsecond(),
            offset_s,
        })
    }

    /// The moment `unix_us` microseconds after 1970, written with `offset_s` seconds east of UTC, in whole minutes.
    ///
    /// Facts and clocks may hold any number. An instant before or after what the calendar can write becomes the first or the
    /// last one that it can; an offset of more than a day becomes UTC.
    pub fn from_unix_us(unix_us: i64, offset_s: i32) -> Self {
        let furthest = if unix_us < 0 { Timestamp::MIN } else { Timestamp::MAX };
        let instant = Timestamp::from_microsecond(unix_us).unwrap_or(furthest);
        let offset = Offset::from_seconds(offset_s - offset_s % 60).unwrap_or(Offset::UTC);
        let zoned = instant.to_zoned_datetime(TimeZone::fixed(offset));
        let text = zoned.strftime("%Y-%m-%dT%H:%M:%S%.f%:z").to_string();
        let text = if offset == Offset::UTC {
            text.replace("+00:00", "Z")
        } else {
            text
        };
        Self {
            text,
            unix_us: instant.as_microsecond(),
            offset_s: offset.seconds(),
        }
    }

    /// Microseconds since 1970-01-01T00:00:00Z.
    pub fn unix_us(&self) -> i64 {
        self.unix_us
    }

    /// As it was written.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Hour and minute as written; the whole text for a year that does not have four digits.
    pub fn hour_minute(&self) -> &str {
        self.text.get(11..16).unwrap_or(&self.text)
    }

    /// Year, month and day as written; see [`Moment::hour_minute`].
    pub fn date(&self) -> &str {
        self.text.get(0..10).unwrap_or(&self.text)
    }

    /// Seconds east of UTC, as written. `-00:00` and `Z` are 0.
    pub fn offset_s(&self) -> i32 {
        self.offset_s
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}
impl PartialEq for Moment {
    fn eq(&self, other: &Self) -> bool {
        self.unix_us == other.unix_us
    }
}
impl Eq for Moment {}
impl PartialOrd for Moment {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Moment {
    fn cmp(&self, other: &Self) -> Ordering {
        self.unix_us.cmp(&other.unix_us)
    }
}

enum Shape {
    Full { offset_s: i32 },
    NoOffset,
    Other,
}

/// Looks only at the shape: `dddd-dd-ddTdd:dd:dd[.d+](Z|±dd:dd)`.
fn shape(text: &str) -> Shape {
    let Some((date_time, rest)) = text.split_at_checked(19) else {
        return Shape::Other;
    };
    if !has_form(date_time, "dddd-dd-ddTdd:dd:dd") {
        return Shape::Other;
    }
    let offset = match rest.strip_prefix('.') {
        Some(fraction) if fraction.starts_with(is_digit) => fraction.trim_start_matches(is_digit),
        Some(_) => return Shape::Other,
        None => rest,
    };
    match (offset, numeric_offset(offset)) {
        ("", _) => Shape::NoOffset,
        ("Z" | "z", _) => Shape::Full { offset_s: 0 },
        (_, Some(offset_s)) => Shape::Full { offset_s },
        (_, None) => Shape::Other,
    }
}

fn is_digit(c: char) -> bool {
    c.is_ascii_digit()
}

/// Whether `text` is `form`, where `d` is any digit and `T` is what may separate date and time.
fn has_form(text: &str, form: &str) -> bool {
    let fits = |(found, wanted)| match wanted {
        b'd' => u8::is_ascii_digit(&found),
        b'T' => matches!(found, b'T' | b't' | b' '),
        _ => found == wanted,
    };
    text.len() == form.len() && text.bytes().zip(form.bytes()).all(fits)
}

/// The seconds of `±dd:dd`. Hours and minutes are those of a clock (RFC 3339 §5.6, `time-numoffset`).
fn numeric_offset(text: &str) -> Option<i32> {
    let (sign, clock) = match text.strip_prefix('-') {
        Some(clock) => (-1, clock),
        None => (1, text.strip_prefix('+')?),
    };
    let (hours, minutes) = clock.split_once(':').filter(|_| has_form(clock, "dd:dd"))?;
    let (hours, minutes): (i32, i32) = (hours.parse().ok()?, minutes.parse().ok()?);
    (hours < 24 && minutes < 60).then_some(sign * (hours * 3600 + minutes * 60))
}

/// The grammar allows any number of digits after the second, and jiff reads nine. More are cut off.
fn without_finest(text: &str) -> String {
    let Some((seconds, rest)) = text.split_once('.') else {
        return text.to_owned();
    };
    let offset = rest.trim_start_matches(is_digit);
    let digits: String = rest.chars().take_while(|c| is_digit(*c)).take(9).collect();
    format!("{seconds}.{digits}{offset}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn us(text: &str) -> i64 {
        Moment::parse(text).unwrap_or_else(|e| panic!("{e}")).unix_us()
    }

    /// The examples of RFC 3339 §5.8, with the equalities that its text states.
    #[test]
    fn published_examples_of_rfc_3339() {
        assert_eq!(us("1985-04-12T23:20:50.52Z"), 482_196_050_520_000);
        assert_eq!(us("1996-12-19T16:39:57-08:00"), us("1996-12-20T00:39:57Z"));
        assert_eq!(us("1990-12-31T15:59:60-08:00"), us("1990-12-31T23:59:60Z"));
        assert_eq!(us("1937-01-01T12:00:27.87+00:20"), us("1937-01-01T11:40:27.87Z"));
    }

    #[test]
    fn digits_that_nobody_counts_are_no_reason_to_refuse() {
        for offset in ["Z", "+05:30", "-08:00"] {
            let exact = us(&format!("2026-03-02T22:14:05.123456789{offset}"));
            assert_eq!(us(&format!("2026-03-02T22:14:05.123456789123{offset}")), exact);
        }
    }

    /// The hour that New York has twice (IANA time zone data): the offset alone tells the two apart.
    #[test]
    fn the_repeated_hour_is_two_moments() {
        assert_eq!(us("2026-11-01T01:30:00-04:00"), us("2026-11-01T05:30:00Z"));
        assert_eq!(us("2026-11-01T01:30:00-05:00"), us("2026-11-01T06:30:00Z"));
    }

    #[test]
    fn refusals_name_the_reason() {
        assert!(matches!(
            Moment::parse("2026-03-02T22:14:05"),
            Err(MomentError::NoOffset(_))
        ));
        assert!(matches!(
            Moment::parse("2026-03-02T22:14:05.5"),
            Err(MomentError::NoOffset(_))
        ));
        for bad in [
            "yesterday",
            "2026-03-02",
            "2026-03-02T22:14Z",
            "2026-03-02T22:14:05-05",
            "2026-03-02T22:14:05.Z",
            "2026-03-02T22:14:05+24:00",
            "2026-03-02T22:14:05-05:60",
            "",
        ] {
            assert!(matches!(Moment::parse(bad), Err(MomentError::Shape(_))), "{bad}");
        }
        assert!(matches!(
            Moment::parse("2026-02-30T10:00:00Z"),
            Err(MomentError::NoSuchTime { .. })
        ));
        assert!(matches!(
            Moment::parse("2026-03-02T22:14:05-05:00[America/New_York]"),
            Err(MomentError::Shape(_))
        ));
    }

    #[test]
    fn the_offset_is_kept() {
        let moment = Moment::parse("2026-03-02T22:14:05-05:00").unwrap();
        assert_eq!(
            (moment.text(), moment.hour_minute(), moment.offset_s()),
            ("2026-03-02T22:14:05-05:00", "22:14", -18_000)
        );
        let back = Moment::from_unix_us(moment.unix_us(), moment.offset_s());
        assert_eq!(back.text(), moment.text());
        assert_eq!(Moment::from_unix_us(1_500_000, 0).text(), "1970-01-01T00:00:01.5Z");
        assert_eq!(Moment::from_unix_us(0, 19_800).text(), "1970-01-01T05:30:00+05:30");
        let _ = (
            Moment::from_unix_us(i64::MAX, i32::MAX),
            Moment::from_unix_us(i64::MIN, i32::MIN),
        );
    }
}
