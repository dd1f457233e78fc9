//! Small pieces of sentences: lists, times, lengths of time, names of facts.

use std::fmt::Display;

use crate::reason::fact_ref::{FactLabel, WrittenTime};

/// More items than this are counted, not named.
const NAMED_AT_MOST: usize = 4;

/// `2026-03-02 10:12`, as it was written, with its offset between two marks for [`with_offsets`].
pub(super) fn when(at: &WrittenTime) -> String {
    let text = at.text();
    let date = text.get(..10).unwrap_or(text);
    let clock = text.get(11..16).unwrap_or(text);
    format!("{date} {clock}{OFFSET}{}{END}", offset(text))
}

/// The offset at the end of an RFC 3339 time; `UTC` for any that is zero.
fn offset(text: &str) -> &str {
    let tail = text.get(text.len().saturating_sub(6)..).unwrap_or_default();
    let is_offset = tail.starts_with(['+', '-']) && !matches!(tail.get(1..), Some("00:00"));
    if is_offset { tail } else { "UTC" }
}

/// Marks of private use: no keyboard has them.
const OFFSET: char = '\u{e000}';
const END: char = '\u{e001}';

/// Finishes a sentence: the offsets of its times are printed where they differ, as in the night in which the clocks are changed,
/// and left out where they are all the same.
pub(super) fn with_offsets(sentence: &str) -> String {
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

/// A fact in a few words: `the link of C1 to T1`, `the sign-off of J1`.
pub(super) fn label(fact: &FactLabel) -> String {
    let text = or_unknown;
    let of_job = |what: String, job: &Option<String>| match job {
        Some(job) => format!("{what} of {job}"),
        None => what,
    };
    match fact {
        FactLabel::Link { camera, tracker } => format!("the link of {} to {}", text(camera), text(tracker)),
        FactLabel::Unlink { camera, tracker } => format!("the unlink of {} from {}", text(camera), text(tracker)),
        FactLabel::Settings { tracker, state } => format!("the settings of {} as {}", text(tracker), text(state)),
        FactLabel::Stock { part } => format!("the stock entry of {}", text(part)),
        FactLabel::Job { job } => format!("the entry for job {}", text(job)),
        FactLabel::Scan { code } => format!("the scan of {}", text(code)),
        FactLabel::Check { check, job } => of_job(format!("the check {}", text(check)), job),
        FactLabel::Proof { state, job } => of_job(picture(state.as_deref()).to_owned(), job),
        FactLabel::SignOff { job } => of_job("the sign-off".to_owned(), job),
        FactLabel::StandDown { job } => of_job("the stand-down".to_owned(), job),
        FactLabel::Withdraw { job } => of_job("the withdrawal".to_owned(), job),
        FactLabel::Other { kind, job } => of_job(format!("the {kind}"), job),
    }
}

fn picture(state: Option<&str>) -> &'static str {
    match state {
        Some("asked") => "the request of the picture",
        Some("judged") => "the judgement of the picture",
        _ => "the picture",
    }
}

/// The text of a key, or a question mark where the fact does not carry it.
pub(super) fn or_unknown(text: &Option<String>) -> &str {
    text.as_deref().unwrap_or("?")
}

/// A length of time in whole minutes: `41 minutes`, `2 hours 5 minutes`, `3 days 4 hours`.
pub(super) fn span(us: i64) -> String {
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
pub(super) fn listed<T: Display>(items: impl IntoIterator<Item = T>) -> String {
    let mut items: Vec<String> = items.into_iter().map(|item| item.to_string()).collect();
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

/// `3 min 20 s`, `2 h 5 min`, `1 day 4 h`: two units are enough.
pub fn short_span(us: u64) -> String {
    let s = us / 1_000_000;
    match (s / 86_400, s / 3_600 % 24, s / 60 % 60, s % 60) {
        (0, 0, 0, s) => format!("{s} s"),
        (0, 0, min, s) => format!("{min} min {s} s"),
        (0, h, min, _) => format!("{h} h {min} min"),
        (1, h, _, _) => format!("1 day {h} h"),
        (days, h, _, _) => format!("{days} days {h} h"),
    }
}

/// With a capital letter.
pub(super) fn capital(word: &str) -> String {
    let mut letters = word.chars();
    let first = letters.next().into_iter().flat_map(char::to_uppercase);
    first.chain(letters.clone()).collect()
}

#[cfg(test)]
#[path = "phrases_tests.rs"]
mod tests;
