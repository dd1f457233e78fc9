//! CSV under a header row. A dotted header such as `answers.lens-clear` makes a nested key. Empty cells are absent.
//!
//! Cells are text, except where the key says otherwise: `ok` and everything under `answers` are truths, `value` is a number
//! where it reads as one. A code such as `00123` stays the text that it is.

use std::io::BufRead;

use gladhand_facts::fact::MAX_LINE_BYTES;
use serde_json::{Map, Value};

use super::{Line, shown};

pub(super) fn read<E: From<std::io::Error>>(
    source: &mut dyn BufRead,
    sink: &mut dyn FnMut(Line) -> Result<(), E>,
) -> Result<(), E> {
    let delimiter = delimiter(source.fill_buf()?);
    let mut reader = csv::ReaderBuilder::new()
        .flexible(true)
        .delimiter(delimiter)
        .from_reader(source);
    let headers: Vec<String> = match reader.byte_headers() {
        Ok(headers) => headers.iter().map(header).collect(),
        Err(e) => {
            return sink(Line {
                number: 1,
                text: String::new(),
                object: Err(format!("no CSV header: {e}")),
            });
        }
    };
    let mut row = csv::ByteRecord::new();
    loop {
        let number = reader.position().line();
        match reader.read_byte_record(&mut row) {
            Ok(false) => return Ok(()),
            Ok(true) => {
                let number = row.position().map_or(number, csv::Position::line);
                sink(Line {
                    number,
                    text: shown(row.as_slice_joined(delimiter).as_slice()),
                    object: object(&headers, &row),
                })?;
            }
            Err(e) => {
                let reason = format!("not CSV: {e}");
                match e.into_kind() {
                    csv::ErrorKind::Io(e) => return Err(e.into()),
                    _ => sink(Line {
                        number,
                        text: String::new(),
                        object: Err(reason),
                    })?,
                }
            }
        }
    }
}

trait Joined {
    fn as_slice_joined(&self, delimiter: u8) -> Vec<u8>;
}

impl Joined for csv::ByteRecord {
    /// The row about as it stood in the file, for showing.
    fn as_slice_joined(&self, delimiter: u8) -> Vec<u8> {
        self.iter().collect::<Vec<_>>().join(&delimiter)
    }
}

fn delimiter(start: &[u8]) -> u8 {
    let first = start.split(|b| *b == b'\n').next().unwrap_or_default();
    if first.contains(&b';') && !first.contains(&b',') {
        b';'
    } else {
        b','
    }
}

fn header(cell: &[u8]) -> String {
    let text = String::from_utf8_lossy(cell);
    text.trim_start_matches('\u{feff}').trim().to_owned()
}

fn object(headers: &[String], row: &csv::ByteRecord) -> Result<Map<String, Value>, String> {
    if row.as_slice().len() > MAX_LINE_BYTES {
        return Err(format!(
            "the row has {} bytes; a fact has at most {MAX_LINE_BYTES}",
            row.as_slice().len()
        ));
    }
    if row.len() != headers.len() {
        return Err(format!(
            "the row has {} cells, the header has {}",
            row.len(),
            headers.len()
        ));
    }
    let mut map = Map::new();
    for (header, cell) in headers.iter().zip(row) {
        let cell = std::str::from_utf8(cell)
            .map_err(|_| format!("not UTF-8 in column `{header}`"))?
            .trim();
        if !cell.is_empty() && !header.is_empty() {
            insert(&mut map, header, typed(header, cell))?;
        }
    }
    Ok(map)
}

fn insert(map: &mut Map<String, Value>, header: &str, value: Value) -> Result<(), String> {
    let Some((outer, inner)) = header.split_once('.') else {
        return match map.insert(header.to_owned(), value) {
            None => Ok(()),
            Some(_) => Err(format!("column `{header}` stands twice in the header")),
        };
    };
    let nested = map.entry(outer.to_owned()).or_insert_with(|| Value::Object(Map::new()));
    match nested {
        Value::Object(nested) => insert(nested, inner, value),
        _ => Err(format!("columns `{outer}` and `{header}` contradict each other")),
    }
}

fn typed(header: &str, cell: &str) -> Value {
    let truth = header == "ok" || header.starts_with("answers.");
    match cell.to_ascii_lowercase().as_str() {
        "true" | "yes" if truth => Value::Bool(true),
        "false" | "no" if truth => Value::Bool(false),
        _ if header == "value" => cell
            .parse::<serde_json::Number>()
            .ok()
            .filter(|n| gladhand_facts::canonical::check_numbers(&Value::Number(n.clone())).is_none())
            .map_or_else(|| Value::from(cell), Value::Number),
        _ => Value::from(cell),
    }
}
