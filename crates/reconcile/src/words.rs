//! Small pieces of plain sentences.

use std::sync::Arc;

use gladhand_facts::{Kind, Moment};

use crate::recorded_fact::RecordedFact;
use crate::world::World;

/// More items than this are counted, not named.
const NAMED_AT_MOST: usize = 4;

/// `mara on lap-1 (2026-03-02 10:12)`.
pub(crate) fn deed(world: &World<'_>, recorded: &RecordedFact) -> String {
    let by = recorded.owned("by").unwrap_or_else(|| "somebody".to_owned());
    let device = world.facts.device_name(&recorded.place.log.device);
    format!("{by} on {device} ({})", when(&recorded.at()))
}

/// Several deeds, listed.
pub(crate) fn deeds(world: &World<'_>, recorded_facts: &[Arc<RecordedFact>]) -> String {
    listed(recorded_facts.iter().map(|w| deed(world, w)))
}

/// `2026-03-02 10:12`, as it was written, with its offset between two marks for [`with_offsets`].
pub(crate) fn when(moment: &Moment) -> String {
    let text = moment.text();
    let offset = match moment.offset_s() {
        0 => "UTC",
        _ => text.get(text.len().saturating_sub(6)..).unwrap_or_default(),
    };
    format!("{} {}{OFFSET}{offset}{END}", moment.date(), moment.hour_minute())
}

/// Marks of private use: no keyboard has them.
const OFFSET: char = '\u{e000}';
const END: char = '\u{e001}';

/// A finished sentence: the offsets of its times are told where they differ, as in the night in which the clocks are changed, and
/// left out where they are all the same.
pub(crate) fn with_offsets(sentence: &str) -> String {
    let mut pieces = sentence.split(OFFSET);
    let mut out = pieces.next().unwrap_or_default().to_owned();
    let pieces: Vec<(&str, &str)> = pieces.map(|p| p.split_once(END).unwrap_or(("", p))).collect();
    let differ = pieces
        .iter()
        .any(|(offset, _)| Some(offset) != pieces.first().map(|(first, _)| first));
    for (offset, rest) in pieces {
        if differ && !offset.is_empty() {
            out.push(' ');
            out.push_str(offset);
        }
        out.push_str(rest);
    }
    out
}

/// What a fact is, in a few words: `the link of C1 to T1`, `the sign-off of J1`.
pub(crate) fn thing(recorded: &RecordedFact) -> String {
    let text = |key: &str| recorded.owned(key).unwrap_or_else(|| "?".to_owned());
    let of_job = |what: &str| match recorded.owned("job") {
        Some(job) => format!("{what} of {job}"),
        None => what.to_owned(),
    };
    match recorded.fact.kind() {
        Kind::Link => format!("the link of {} to {}", text("camera"), text("tracker")),
        Kind::Unlink => format!("the unlink of {} from {}", text("camera"), text("tracker")),
        Kind::Settings => format!("the settings of {} as {}", text("tracker"), text("state")),
        Kind::Stock => format!(
            "the stock entry of {}",
            recorded.owned("camera").unwrap_or_else(|| text("tracker"))
        ),
        Kind::Job => format!("the entry for job {}", text("job")),
        Kind::Scan => format!("the scan of {}", text("code")),
        Kind::Check => of_job(&format!("the check {}", text("check"))),
        Kind::Proof => of_job(match recorded.fact.text("state").as_deref() {
            Some("asked") => "the request of the picture",
            Some("judged") => "the judgement of the picture",
            _ => "the picture",
        }),
        Kind::SignOff => of_job("the sign-off"),
        Kind::StandDown => of_job("the stand-down"),
        other => of_job(&format!("the {other}")),
    }
}

/// A length of time in whole minutes: `41 minutes`, `2 hours 5 minutes`, `3 days 4 hours`.
pub(crate) fn span(us: i64) -> String {
    let minutes = us.max(0) / 60_000_000;
    let some = |n: i64, unit: &str| match n {
        0 => None,
        1 => Some(format!("1 {unit}")),
        n => Some(format!("{n} {unit}s")),
    };
    let (days, hours) = (minutes / 1_440, minutes / 60 % 24);
    let parts = match (days, hours) {
        (0, 0) => [some(minutes, "minute"), None],
        (0, hours) => [some(hours, "hour"), some(minutes % 60, "minute")],
        (days, hours) => [some(days, "day"), some(hours, "hour")],
    };
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    if parts.is_empty() {
        "less than a minute".to_owned()
    } else {
        parts.join(" ")
    }
}

/// `a, b and c`; from the fifth item on `a, b, c, d and 3 more`.
pub(crate) fn listed(items: impl IntoIterator<Item = String>) -> String {
    let mut items: Vec<String> = items.into_iter().collect();
    if items.len() > NAMED_AT_MOST + 1 {
        let more = items.len() - NAMED_AT_MOST;
        items.truncate(NAMED_AT_MOST);
        items.push(format!("{more} more"));
    }
    match items.split_last() {
        None => String::new(),
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use gladhand_facts::{DeviceKey, Fact, LogId, Place, Stamp};

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
            thing(&RecordedFact {
                fact: Fact::from_line(&device, line).unwrap(),
                place: Place { log, seq: 1, index: 0 },
                stamp: Stamp::default(),
                seen: Arc::default(),
            })
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
        let at = |text: &str| when(&Moment::parse(text).unwrap());
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
}
