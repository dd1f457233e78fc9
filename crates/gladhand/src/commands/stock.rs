//! `stock read`: a fleet's own list of trailers, trackers and cameras becomes stock facts; says what differs from what is known.
//!
//! A row may name a trailer with its VIN and the tracker that it carries, and a camera; each becomes a fact of its own. What is known
//! as it stands in the list is not recorded again.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{BufReader, Cursor};
use std::path::Path;

use gladhand_facts::{Kind, code_key, name_key};
use gladhand_node::input::{self, Format, InputLine};
use gladhand_node::{IndexedFacts, Node};
use gladhand_reconcile::recorded_fact::latest;
use gladhand_reconcile::{Facts, RecordedFact, Subject};
use serde_json::{Map, Value};

use super::{Context, record};
use crate::cli::StockRead;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;

/// The keys that a column may stand for.
const KEYS: [&str; 5] = ["fleet", "trailer", "vin", "tracker", "camera"];

/// One stock fact to be.
type Entry = BTreeMap<&'static str, String>;

/// Reads the list, says what differs, and records it.
pub fn read(context: &Context, args: &StockRead) -> Outcome {
    let mapped = columns(&args.map)?;
    let lines = rows(&context.at(&args.file), &args.file)?;
    let mut rejected = 0_u64;
    let mut entries = Vec::new();
    for line in lines {
        let place = format!("{}:{}", args.file.display(), line.number);
        match line.object.and_then(|row| of_row(&row, &mapped, args.fleet.as_deref())) {
            Ok(found) => entries.extend(found),
            Err(why) => {
                rejected += 1;
                show::aside(&format!("{place}: rejected: {why}"));
            }
        }
    }
    let mut access = context.access()?;
    let news = access.with(|node| compare(node, &entries))??;
    for difference in &news.differences {
        show::aside(difference);
    }
    let outcome = record::record_source(context, &mut access, &args.file, Cursor::new(news.lines))?;
    access.close()?;
    show::aside(&format!(
        "{}, {} as known already, {} that differ from what was known",
        show::counted(outcome.recorded, "entry recorded", "entries recorded"),
        news.known,
        news.differences.len()
    ));
    Ok(if rejected + outcome.rejected > 0 {
        Exit::SomeRejected
    } else {
        Exit::Done
    })
}

/// What `--map COLUMN=KEY` says: a column's name in lower case, and what it stands for.
fn columns(map: &[String]) -> Result<BTreeMap<String, &'static str>, Failure> {
    let mut columns: BTreeMap<String, &'static str> = KEYS.iter().map(|key| ((*key).to_owned(), *key)).collect();
    for given in map {
        let wrong = || {
            Failure::bad_input(format!("--map {given}: write COLUMN=KEY"))
                .hint(format!("KEY is one of {}.", KEYS.join(", ")))
        };
        let (column, key) = given.rsplit_once('=').ok_or_else(wrong)?;
        let key = KEYS.iter().find(|known| **known == key.trim()).ok_or_else(wrong)?;
        columns.insert(column.trim().to_lowercase(), key);
    }
    Ok(columns)
}

fn rows(path: &Path, shown: &Path) -> Result<Vec<InputLine>, Failure> {
    let cannot = |e: std::io::Error| {
        Failure::bad_input(format!("cannot read {}: {e}", shown.display())).hint("Nothing was recorded.")
    };
    let mut source = BufReader::new(File::open(path).map_err(cannot)?);
    let mut lines = Vec::new();
    input::read_lines::<std::io::Error>(&mut source, Some(Format::Csv), &mut |line| {
        lines.push(line);
        Ok(())
    })
    .map_err(cannot)?;
    Ok(lines)
}

/// The entries of one row: the trailer with what belongs to it, and each part that stands alone.
fn of_row(
    row: &Map<String, Value>,
    columns: &BTreeMap<String, &'static str>,
    fleet: Option<&str>,
) -> Result<Vec<Entry>, String> {
    let mut named: Entry = BTreeMap::new();
    let mut cells = Vec::new();
    flatten("", row, &mut cells);
    for (column, text) in &cells {
        if let Some(key) = columns.get(&column.to_lowercase()) {
            named.insert(key, text.trim().to_owned());
        }
    }
    let fleet = named.remove("fleet").or_else(|| fleet.map(str::to_owned));
    let fleet = fleet.ok_or("no fleet: give --fleet NAME, or map a column to fleet")?;
    let of = |keys: &[&'static str]| {
        let held = keys.iter().filter_map(|key| Some((*key, named.get(key)?.clone())));
        let mut entry: Entry = held.collect();
        entry.insert("fleet", fleet.clone());
        entry
    };
    let mut found = Vec::new();
    if named.contains_key("trailer") {
        found.push(of(&["trailer", "vin", "tracker"]));
    } else if named.contains_key("tracker") {
        found.push(of(&["tracker"]));
    }
    if named.contains_key("camera") {
        found.push(of(&["camera"]));
    }
    if found.is_empty() {
        let columns: Vec<&str> = cells.iter().map(|(column, _)| column.as_str()).collect();
        return Err(format!(
            "no trailer, tracker or camera in the columns {}; say with --map COLUMN=KEY which is which",
            columns.join(", ")
        ));
    }
    Ok(found)
}

/// The cells by the names of their columns. A dot in a name has made an object of it, as in fact files.
fn flatten(before: &str, row: &Map<String, Value>, cells: &mut Vec<(String, String)>) {
    for (name, value) in row {
        match value {
            Value::Object(inner) => flatten(&format!("{before}{name}."), inner, cells),
            Value::String(text) => cells.push((format!("{before}{name}"), text.clone())),
            _ => {}
        }
    }
}

/// What is to be recorded of a list.
struct News {
    /// JSON Lines.
    lines: Vec<u8>,
    /// How many entries stand as they are.
    known: usize,
    /// What differs from what was known, in words.
    differences: Vec<String>,
}

fn compare(node: &mut Node, entries: &[Entry]) -> Result<News, Failure> {
    let indexed = IndexedFacts::new(node);
    let mut news = News {
        lines: Vec::new(),
        known: 0,
        differences: Vec::new(),
    };
    for entry in entries {
        let known = known_as(&indexed, entry);
        if !known.is_empty() && known.iter().all(|w| differing(w, entry).is_empty()) {
            news.known += 1;
            continue;
        }
        for (key, was) in known.iter().flat_map(|w| differing(w, entry)) {
            let now = entry.get(key).cloned().unwrap_or_default();
            news.differences
                .push(format!("{}: {key} was {was}, the list says {now}", of_what(entry)));
        }
        let mut line: Map<String, Value> = entry
            .iter()
            .map(|(k, v)| ((*k).to_owned(), v.as_str().into()))
            .collect();
        line.insert("kind".to_owned(), Kind::Stock.name().into());
        news.lines.extend_from_slice(Value::Object(line).to_string().as_bytes());
        news.lines.push(b'\n');
    }
    indexed.failure().map_err(Failure::from)?;
    Ok(news)
}

/// The latest entries about the same thing.
fn known_as(indexed: &IndexedFacts<'_>, entry: &Entry) -> Vec<std::sync::Arc<RecordedFact>> {
    let subject = |key: &str, of: fn(&str) -> Subject| entry.get(key).map(|code| of(code));
    let subject = subject("trailer", Subject::trailer)
        .or_else(|| subject("camera", Subject::camera))
        .or_else(|| subject("tracker", Subject::tracker));
    let mut about = subject.map(|s| indexed.about(&s)).unwrap_or_default();
    let is_trailer = entry.contains_key("trailer");
    about.retain(|w| w.is(&Kind::Stock) && w.fact.text("trailer").is_some() == is_trailer);
    latest(&about)
}

/// The keys in which a recorded entry says something else, with what it says.
fn differing(recorded: &RecordedFact, entry: &Entry) -> Vec<(&'static str, String)> {
    let compared = |key: &str, text: &str| if key == "fleet" { name_key(text) } else { code_key(text) };
    let other = entry.iter().filter_map(|(key, now)| {
        let was = recorded.owned(key).unwrap_or_else(|| "not known".to_owned());
        (compared(key, &was) != compared(key, now)).then_some((*key, was))
    });
    other.collect()
}

fn of_what(entry: &Entry) -> String {
    let named = ["trailer", "camera", "tracker"]
        .iter()
        .find_map(|key| Some((key, entry.get(key)?)));
    named.map_or_else(String::new, |(key, code)| format!("{key} {code}"))
}
