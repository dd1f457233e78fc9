//! A history as a table for people, and below it what a table cannot say: whose clock nobody measured, who had seen what,
//! fields with several values.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::{Fact, FactId, Moment};
use gladhand_reconcile::timeline::{Basis, Corrected, HistoryRow, SeenBy};
use serde_json::Value;

use super::fields;
use crate::failure::Failure;
use crate::show;
use gladhand_answers::fact_words::{summary, summary_keys};

/// The number of each fact's row.
pub(super) type Rows = BTreeMap<FactId, usize>;

/// Shows the lines and what belongs to them.
pub(super) fn lines(lines: &[HistoryRow], as_of: Option<&str>, perhaps_too: usize) -> Result<(), Failure> {
    let rows: Rows = (1..).zip(lines).map(|(row, line)| (line.id, row)).collect();
    if !lines.is_empty() {
        show::print(&table(lines, &rows))?;
    }
    let is_full = lines.iter().all(|line| line.concurrent_with.is_some());
    if is_full {
        show::print(&seen(lines))?;
        show::print(&fields::told(lines, &rows))?;
    }
    for sentence in clocks(lines) {
        show::print(&format!("\n{}", show::wrapped(&sentence, "")))?;
    }
    let marked = lines.iter().filter(|l| l.concurrent > 0).count() as u64;
    if marked > 0 {
        let what = if is_full {
            "‖ names the rows"
        } else {
            "‖ marks facts"
        };
        show::aside(&format!(
            "{what} that a recorder did not know of, and the other way round ({} in all)",
            show::counted(marked, "row", "rows")
        ));
    }
    if let Some(time) = as_of.filter(|_| perhaps_too > 0) {
        let count = show::counted(perhaps_too as u64, "more fact", "more facts");
        show::aside(&format!(
            "{count} may have happened by {time} as well: the clocks leave it open"
        ));
    }
    Ok(())
}

fn table(lines: &[HistoryRow], rows: &Rows) -> String {
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
    let mark = match &line.concurrent_with {
        _ if line.concurrent == 0 => String::new(),
        Some(ids) => format!("‖ {}", spans(ids.iter().filter_map(|id| rows.get(id).copied()))),
        None => "‖".to_owned(),
    };
    [
        row.to_string(),
        line.at.clone(),
        line.corrected
            .as_ref()
            .map_or_else(|| "-".into(), |c| by_the_depot(c, &line.at)),
        line.device.clone(),
        line.place.seq.to_string(),
        line.by.clone().unwrap_or_else(|| "-".into()),
        fact.map_or(line.kind.clone(), |f| whole(&f, line)),
        mark,
    ]
    .to_vec()
}

/// A table whose cells keep to their lines, whatever stands in facts and names.
pub(super) fn aligned(cells: &[Vec<String>]) -> String {
    let one_line = |row: &Vec<String>| row.iter().map(|cell| show::in_one_line(cell).into_owned()).collect();
    let cells: Vec<Vec<String>> = cells.iter().map(one_line).collect();
    show::table(&cells)
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
pub(super) fn by_the_depot(corrected: &Corrected, written: &str) -> String {
    let interval = corrected.interval;
    let half_us = interval.width_us() / 2;
    let width = format!("±{}", span_of_time(half_us));
    match corrected.basis {
        Basis::Depot => "the same".to_owned(),
        Basis::Unmeasured | Basis::Server => width,
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

/// In the largest unit of which there are at least two, never said to be shorter than it is.
pub(super) fn span_of_time(us: i64) -> String {
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
pub(super) fn spans(rows: impl IntoIterator<Item = usize>) -> String {
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
fn seen(lines: &[HistoryRow]) -> String {
    let mut groups: Vec<(&str, Vec<String>, Vec<usize>)> = Vec::new();
    for (row, line) in (1..).zip(lines) {
        let mut readers: Vec<String> = line.seen_by.iter().map(reader).collect();
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

fn reader(seen: &SeenBy) -> String {
    let at = in_brackets(seen.at.as_deref());
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
fn clocks(lines: &[HistoryRow]) -> Vec<String> {
    let mut unmeasured: BTreeMap<i64, BTreeSet<&str>> = BTreeMap::new();
    for line in lines {
        if let Some(corrected) = line.corrected.as_ref().filter(|c| c.basis == Basis::Unmeasured) {
            let half_us = corrected.interval.width_us() / 2;
            unmeasured.entry(half_us).or_default().insert(&line.device);
        }
    }
    let told = |(half_us, devices): (i64, BTreeSet<&str>)| {
        let names: Vec<&str> = devices.into_iter().collect();
        let (was, whose) = if names.len() == 1 {
            ("was", "its")
        } else {
            ("were", "their")
        };
        format!(
            "{} {was} never measured against the depot's clock: {whose} times may be off by {} either way.",
            and(&names),
            span_of_time(half_us)
        )
    };
    unmeasured.into_iter().map(told).collect()
}

/// `a, b and c`.
pub(super) fn and(names: &[&str]) -> String {
    match names.split_last() {
        None => String::new(),
        Some((last, [])) => (*last).to_owned(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
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
