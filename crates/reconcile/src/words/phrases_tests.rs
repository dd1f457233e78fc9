use std::sync::Arc;

use gladhand_facts::{DeviceKey, Fact, LogId, Moment, Place, Stamp};

use super::*;
use crate::recorded_fact::RecordedFact;

#[test]
fn spans_are_told_in_two_units() {
    let minutes = |n: i64| span(n * 60_000_000);
    assert_eq!(span(59_999_999), "less than a minute");
    assert_eq!(span(-5), "less than a minute");
    assert_eq!(minutes(1), "1 minute");
    assert_eq!(minutes(41), "41 minutes");
    assert_eq!(minutes(60), "1 hour");
    assert_eq!(minutes(125), "2 hours 5 minutes");
    assert_eq!(minutes(24 * 60), "1 day");
    assert_eq!(minutes(24 * 60 + 59), "1 day");
    assert_eq!(minutes(76 * 60 + 3), "3 days 4 hours");
}

#[test]
fn each_kind_of_fact_has_a_name() {
    let named = |line: &str| {
        let device = DeviceKey([1; 32]);
        let log = LogId { device, incarnation: 1 };
        label(&FactLabel::of(&RecordedFact {
            fact: Fact::from_line(&device, line).unwrap(),
            place: Place { log, seq: 1, index: 0 },
            stamp: Stamp::default(),
            seen: Arc::default(),
        }))
    };
    for (line, want) in [
        (
            r#"{"kind":"link","camera":"C1","tracker":"T1"}"#,
            "the link of C1 to T1",
        ),
        (
            r#"{"kind":"unlink","camera":"C1","tracker":"T1"}"#,
            "the unlink of C1 from T1",
        ),
        (
            r#"{"kind":"settings","tracker":"T1","state":"live"}"#,
            "the settings of T1 as live",
        ),
        (
            r#"{"kind":"stock","camera":"C1","fleet":"Quill"}"#,
            "the stock entry of C1",
        ),
        (
            r#"{"kind":"stock","tracker":"T1","fleet":"Quill"}"#,
            "the stock entry of T1",
        ),
        (r#"{"kind":"job","job":"J1"}"#, "the entry for job J1"),
        (r#"{"kind":"scan","code":"C9"}"#, "the scan of C9"),
        (
            r#"{"kind":"check","job":"J1","check":"hole-cut","ok":true}"#,
            "the check hole-cut of J1",
        ),
        (
            r#"{"kind":"proof","job":"J1","state":"asked"}"#,
            "the request of the picture of J1",
        ),
        (r#"{"kind":"proof","job":"J1","state":"taken"}"#, "the picture of J1"),
        (
            r#"{"kind":"proof","job":"J1","state":"judged","ok":true}"#,
            "the judgement of the picture of J1",
        ),
        (r#"{"kind":"sign-off","job":"J1"}"#, "the sign-off of J1"),
        (r#"{"kind":"stand-down","job":"J1"}"#, "the stand-down of J1"),
        (r#"{"kind":"note","text":"x"}"#, "the note"),
    ] {
        assert_eq!(named(line), want);
    }
}

#[test]
fn offsets_are_told_where_they_differ() {
    let at = |text: &str| when(&WrittenTime::from(&Moment::parse(text).unwrap()));
    let summer = at("2026-11-01T01:30:00-04:00");
    let winter = at("2026-11-01T01:30:00-05:00");
    assert_eq!(
        with_offsets(&format!("at {summer}, then at {summer}.")),
        "at 2026-11-01 01:30, then at 2026-11-01 01:30."
    );
    assert_eq!(
        with_offsets(&format!("at {summer}, then at {winter}.")),
        "at 2026-11-01 01:30 -04:00, then at 2026-11-01 01:30 -05:00."
    );
    assert_eq!(
        with_offsets(&format!("{winter} and {}", at("2026-11-01T06:30:00Z"))),
        "2026-11-01 01:30 -05:00 and 2026-11-01 06:30 UTC"
    );
    assert_eq!(with_offsets("no time at all"), "no time at all");
    assert_eq!(with_offsets("a mark \u{e000}that nobody set"), "a mark that nobody set");
}

#[test]
fn lists_read_like_a_sentence() {
    let list = |n: usize| listed((1..=n).map(|i| format!("T{i}")));
    assert_eq!(list(0), "");
    assert_eq!(list(1), "T1");
    assert_eq!(list(2), "T1 and T2");
    assert_eq!(list(5), "T1, T2, T3, T4 and T5");
    assert_eq!(list(7), "T1, T2, T3, T4 and 3 more");
}

#[test]
fn short_spans_have_at_most_two_units() {
    let s = |n: u64| short_span(n * 1_000_000 + 999_999);
    for (seconds, want) in [
        (0, "0 s"),
        (59, "59 s"),
        (60, "1 min 0 s"),
        (3_599, "59 min 59 s"),
        (3_600, "1 h 0 min"),
        (2 * 3_600 + 5 * 60 + 9, "2 h 5 min"),
        (86_399, "23 h 59 min"),
        (86_400, "1 day 0 h"),
        (86_400 + 4 * 3_600, "1 day 4 h"),
        (10 * 86_400 + 23 * 3_600, "10 days 23 h"),
    ] {
        assert_eq!(s(seconds), want);
    }
}

#[test]
fn a_time_far_outside_the_calendar_can_be_written() {
    for (text, want) in [
        ("2026-03-02T10:12:30-05:00", "-05:00"),
        ("2026-03-02T10:12:30+00:00", "UTC"),
        ("2026-03-02T10:12:30-00:00", "UTC"),
        ("2026-03-02T10:12:30.5Z", "UTC"),
        (Moment::from_unix_us(i64::MIN, 0).text(), "UTC"),
    ] {
        assert_eq!(offset(text), want, "{text}");
    }
}
