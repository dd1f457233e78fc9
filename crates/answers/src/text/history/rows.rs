//! The rows of a history as a table for people, and below it what a table cannot say: whose clock nobody measured, who had
//! seen what.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::{Fact, FactId, Moment};
use gladhand_reconcile::Interval;
use gladhand_reconcile::timeline::Basis;
use gladhand_reconcile::words::short_span;
use serde_json::Value;

use crate::fact_words::{summary, summary_keys};
use crate::history::rows::{HistoryRow, SeenBy};
use crate::text::layout::{self, and, in_one_line};

/// The number of each fact's row.
pub(crate) type Rows = BTreeMap<FactId, usize>;

pub(super) fn table(lines: &[HistoryRow], rows: &Rows) -> String {
    let mut cells = vec![
        ["#", "time", "by the depot's clock", "device", "entry", "by", "what", ""]
            .map(str::to_owned)
            .to_vec(),
    ];
    cells.extend((1..).zip(lines).map(|(row, line)| cells_of(row, line, rows)));
    aligned(&cells)
}

fn cells_of(row: usize, line: &HistoryRow, rows: &Rows) -> Vec<String> {
    let fact = Fact::from_map(&line.device_key, line.fact.clone());
    let concurrent = match &line.concurrent_with {
        _ if line.concurrent == 0 => None,
        Some(ids) => Some(format!(
            "‖ {}",
            spans(ids.iter().filter_map(|id| rows.get(id).copied()))
        )),
        None => Some("‖".to_owned()),
    };
    let against = line.against_clock.as_ref();
    let against = against.and_then(|seen| against_clock(seen.id, seen.earlier_us, rows));
    let marks: Vec<String> = concurrent.into_iter().chain(against).collect();
    [
        row.to_string(),
        line.at.clone(),
        line.corrected
            .as_ref()
            .map_or_else(|| "-".into(), |c| by_the_depot(c.basis, c.interval(), &line.at)),
        line.device.clone(),
        line.place.seq.to_string(),
        line.by.clone().unwrap_or_else(|| "-".into()),
        taken_back(line, rows) + &fact.map_or(line.kind.clone(), |f| whole(&f, line)),
        marks.join("; "),
    ]
    .to_vec()
}

/// `the clock says 2 h 3 min before row 7, which it had seen`.
pub(crate) fn against_clock(seen: FactId, earlier_us: u64, rows: &Rows) -> Option<String> {
    let row = rows.get(&seen)?;
    let earlier = match earlier_us {
        0..1_000_000 => "less than a second".to_owned(),
        us => short_span(us),
    };
    Some(format!("the clock says {earlier} before row {row}, which it had seen"))
}

/// `withdrawn by row 7: `, before what no longer counts.
fn taken_back(line: &HistoryRow, rows: &Rows) -> String {
    match line.withdrawn_by.map(|id| rows.get(&id)) {
        None => String::new(),
        Some(Some(row)) => format!("withdrawn by row {row}: "),
        Some(None) => "withdrawn: ".to_owned(),
    }
}

/// A table whose cells keep to their lines, whatever stands in facts and names.
pub(super) fn aligned(cells: &[Vec<String>]) -> String {
    let one_line = |row: &Vec<String>| row.iter().map(|cell| in_one_line(cell).into_owned()).collect();
    let cells: Vec<Vec<String>> = cells.iter().map(one_line).collect();
    layout::table(&cells)
}

/// Everything that a fact says: the usual keys bare, the others by name.
fn whole(fact: &Fact, line: &HistoryRow) -> String {
    let told = |key: &str| ["kind", "job", "by", "at", "ok"].contains(&key) || summary_keys(fact.kind()).contains(&key);
    let rest = line.fact.iter().filter(|(key, _)| !told(key));
    let rest: Vec<String> = rest
        .map(|(key, value)| match value {
            Value::String(text) => format!("{key} {text}"),
            other => format!("{key} {other}"),
        })
        .collect();
    if rest.is_empty() {
        summary(fact)
    } else {
        format!("{} ({})", summary(fact), rest.join("; "))
    }
}

/// `16:44:36 ±2 s`, `±24 h`; with the date where it is another than the one written.
pub(crate) fn by_the_depot(basis: Basis, interval: Interval, written: &str) -> String {
    let half_us = interval.width_us() / 2;
    let width = format!("±{}", span_of_time(half_us));
    match basis {
        Basis::Depot => "the same".to_owned(),
        Basis::Unmeasured | Basis::Server => format!("±{}", span_of_time(farthest_us(interval, written))),
        Basis::Measured => {
            let offset_s = Moment::parse(written).map_or(0, |m| m.offset_s());
            let to_the_second_us = interval.from_us.saturating_add(half_us).div_euclid(1_000_000) * 1_000_000;
            let middle = Moment::from_unix_us(to_the_second_us, offset_s);
            let clock = middle.text().get(11..19).unwrap_or_default().to_owned();
            if written.get(..10) == Some(middle.date()) {
                format!("{clock} {width}")
            } else {
                format!("{} {clock} {width}", middle.date())
            }
        }
    }
}

/// How far the true time may be from the written one: what the depot's entries enclose may cut off one side.
pub(crate) fn farthest_us(interval: Interval, written: &str) -> i64 {
    Moment::parse(written).map_or(interval.width_us() / 2, |at| {
        let before_us = at.unix_us().saturating_sub(interval.from_us);
        before_us.max(interval.to_us.saturating_sub(at.unix_us()))
    })
}

/// In the largest unit of which there are at least two, never said to be shorter than it is.
pub(crate) fn span_of_time(us: i64) -> String {
    const S: i64 = 1_000_000;
    let units = [(86_400 * S, "d"), (3_600 * S, "h"), (60 * S, "min"), (S, "s")];
    let unit = units.iter().find(|(unit_us, _)| us >= unit_us * 2);
    match unit {
        // A day is the default of a clock that nobody measured, and people say 24 h.
        Some((unit_us, "d")) if us < unit_us * 3 => format!("{} h", ceil(us, 3_600 * S)),
        Some((unit_us, name)) => format!("{} {name}", ceil(us, *unit_us)),
        None => format!("{} s", ceil(us, S / 10) as f64 / 10.0),
    }
}

fn ceil(us: i64, unit_us: i64) -> i64 {
    us / unit_us + i64::from(us % unit_us > 0)
}

/// `1-3, 7`.
pub(crate) fn spans(rows: impl IntoIterator<Item = usize>) -> String {
    let rows: BTreeSet<usize> = rows.into_iter().collect();
    let mut spans: Vec<(usize, usize)> = Vec::new();
    for row in rows {
        match spans.last_mut() {
            Some((_, last)) if *last + 1 == row => *last = row,
            _ => spans.push((row, row)),
        }
    }
    let said = |(first, last): (usize, usize)| match last - first {
        0 => first.to_string(),
        1 => format!("{first}, {last}"),
        _ => format!("{first}-{last}"),
    };
    spans.into_iter().map(said).collect::<Vec<_>>().join(", ")
}

/// Who had seen which rows, and from which entry on.
pub(super) fn seen(lines: &[HistoryRow]) -> String {
    let mut groups: Vec<(&str, Vec<String>, Vec<usize>)> = Vec::new();
    for (row, line) in (1..).zip(lines) {
        let mut readers: Vec<String> = line.seen_by.iter().map(|seen| reader(seen, &line.at)).collect();
        if readers.is_empty() {
            readers.push("nobody else, as far as is known here".to_owned());
        }
        match groups
            .iter_mut()
            .find(|(device, who, _)| *device == line.device && *who == readers)
        {
            Some((_, _, rows)) => rows.push(row),
            None => groups.push((&line.device, readers, vec![row])),
        }
    }
    let mut cells = Vec::new();
    for (device, readers, rows) in groups {
        let mut head = vec![spans(rows), format!("by {device}:")];
        for reader in readers {
            head.push(reader);
            cells.push(std::mem::replace(&mut head, vec![String::new(), String::new()]));
        }
    }
    if cells.is_empty() {
        return String::new();
    }
    format!("\nSeen by others:\n{}", indented(&aligned(&cells)))
}

/// The time stands in the offset of the row: of an entry without facts only the instant is known.
fn reader(seen: &SeenBy, written: &str) -> String {
    let offset_s = Moment::parse(written).map_or(0, |row| row.offset_s());
    let at = seen.at.as_deref().and_then(|at| Moment::parse(at).ok());
    let at = at.map(|at| Moment::from_unix_us(at.unix_us(), offset_s));
    let at = in_brackets(at.as_ref().map(Moment::text));
    format!("{} from its entry {} on{at}", seen.device, seen.entry)
}

/// ` (2026-03-02 16:41)`, or nothing where no time is known.
pub(super) fn in_brackets(at: Option<&str>) -> String {
    let at = at.and_then(|at| Moment::parse(at).ok());
    at.map_or_else(String::new, |at| format!(" ({} {})", at.date(), at.hour_minute()))
}

pub(super) fn indented(text: &str) -> String {
    text.lines().map(|line| format!("  {line}\n")).collect()
}

/// A sentence for each kind of clock that is not certain.
pub(super) fn clocks(lines: &[HistoryRow]) -> Vec<String> {
    let mut unmeasured: BTreeMap<String, BTreeSet<&str>> = BTreeMap::new();
    for line in lines {
        if let Some(corrected) = line.corrected.as_ref().filter(|c| c.basis == Basis::Unmeasured) {
            let off = span_of_time(farthest_us(corrected.interval(), &line.at));
            unmeasured.entry(off).or_default().insert(&line.device);
        }
    }
    let told = |(off, devices): (String, BTreeSet<&str>)| {
        let names: Vec<&str> = devices.into_iter().collect();
        let (was, whose) = if names.len() == 1 {
            ("was", "its")
        } else {
            ("were", "their")
        };
        format!(
            "{} {was} never measured against the depot's clock: {whose} times may be off by {off} either way.",
            and(&names)
        )
    };
    unmeasured.into_iter().map(told).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_named_in_spans() {
        assert_eq!(spans([3, 1, 2, 7, 9, 10]), "1-3, 7, 9, 10");
        assert_eq!(spans([]), "");
    }

    #[test]
    fn an_uncertainty_is_never_said_to_be_smaller_than_it_is() {
        let said: Vec<String> = [
            0,
            40_000,
            1_900_001,
            2_000_001,
            119_000_000,
            121_000_000,
            86_400_000_000,
            300_000_000_000,
        ]
        .into_iter()
        .map(span_of_time)
        .collect();
        assert_eq!(said, ["0 s", "0.1 s", "2 s", "3 s", "119 s", "3 min", "24 h", "4 d"]);
    }
}
