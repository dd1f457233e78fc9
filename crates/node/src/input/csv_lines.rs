//! CSV under a header row. A dotted header such as `answers.lens-clear` makes a nested key. Empty cells are absent.
//!
//! Cells are text, except for some keys: `ok` and everything under `answers` are booleans, `value` is a number if it parses as one.
//! A code such as `00123` stays text.

use std::cell::{Cell, RefCell};
use std::collections::VecDeque;
use std::io::{BufRead, Read};
use std::rc::Rc;

use gladhand_facts::fact::MAX_LINE_BYTES;
use serde_json::{Map, Value};

use super::line::{InputLine, shown};

/// The longest row. Without a bound one quote that is never closed would take all memory.
const MAX_ROW_BYTES: usize = MAX_LINE_BYTES + (256 << 10);

pub(super) fn read<E: From<std::io::Error>>(
    source: &mut dyn BufRead,
    sink: &mut dyn FnMut(InputLine) -> Result<(), E>,
) -> Result<(), E> {
    let delimiter = delimiter(source.fill_buf()?);
    let mut table = Table {
        delimiter,
        headers: None,
        lines_before: 0,
    };
    // Continues only after a row that was too long.
    while let Some(lines) = table.read_rows(source, sink)? {
        table.lines_before += lines;
    }
    Ok(())
}

/// Passes bytes on until a row is too long, and counts lines.
struct Bounded<'s> {
    source: &'s mut dyn BufRead,
    left: Rc<Cell<usize>>,
    starts: Rc<RefCell<Starts>>,
}

impl Read for Bounded<'_> {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        let read = self.source.read(into)?;
        match self.left.get().checked_sub(read) {
            Some(left) => self.left.set(left),
            None => return Err(std::io::ErrorKind::FileTooLarge.into()),
        }
        self.starts.borrow_mut().pass(into.get(..read).unwrap_or_default());
        Ok(read)
    }
}

/// The offsets and numbers of lines that are not empty, as an editor counts them. The CSV reader's own position counts a CRLF or
/// blank lines before a row as part of the row, so it would name an earlier line.
#[derive(Default)]
struct Starts {
    /// Offset and number.
    known: VecDeque<(u64, u64)>,
    passed: u64,
    ended: u64,
    last: Option<u8>,
}

impl Starts {
    fn pass(&mut self, bytes: &[u8]) {
        for byte in bytes {
            match (byte, self.last) {
                (b'\n', Some(b'\r')) => {}
                (b'\n' | b'\r', _) => self.ended += 1,
                (_, None | Some(b'\n' | b'\r')) => self.known.push_back((self.passed, self.ended + 1)),
                _ => {}
            }
            self.last = Some(*byte);
            self.passed += 1;
        }
    }

    /// The number of the first line that begins at or after `offset`.
    fn number(&mut self, offset: u64) -> u64 {
        while self.known.front().is_some_and(|(start, _)| *start < offset) {
            self.known.pop_front();
        }
        self.known.front().map_or(self.ended + 1, |(_, number)| *number)
    }
}

struct Table {
    delimiter: u8,
    headers: Option<Vec<String>>,
    lines_before: u64,
}

impl Table {
    /// Reads rows to the end (`None`), or past a row that is too long: then returns how many lines were read.
    fn read_rows<E: From<std::io::Error>>(
        &mut self,
        source: &mut dyn BufRead,
        sink: &mut dyn FnMut(InputLine) -> Result<(), E>,
    ) -> Result<Option<u64>, E> {
        let (left, starts) = (Rc::new(Cell::new(MAX_ROW_BYTES)), Rc::<RefCell<Starts>>::default());
        let bounded = Bounded {
            source,
            left: Rc::clone(&left),
            starts: Rc::clone(&starts),
        };
        let mut reader = csv::ReaderBuilder::new()
            .flexible(true)
            .has_headers(false)
            .delimiter(self.delimiter)
            .from_reader(bounded);
        let mut row = csv::ByteRecord::new();
        loop {
            left.set(MAX_ROW_BYTES);
            let offset = reader.position().byte();
            match reader.read_byte_record(&mut row) {
                Ok(false) => return Ok(None),
                Ok(true) => {
                    let number = self.lines_before + starts.borrow_mut().number(offset);
                    self.take(&row, number, sink)?;
                }
                Err(e) => {
                    let number = starts.borrow_mut().number(offset);
                    let lines = reader.position().line().saturating_sub(number);
                    let goes_on = too_long(e, self.lines_before + number, lines, sink)?;
                    if !goes_on || self.headers.is_none() {
                        return Ok(None);
                    }
                    skip_line(reader.into_inner().source)?;
                    return Ok(Some(number));
                }
            }
        }
    }

    /// The first row is the header.
    fn take<E>(
        &mut self,
        row: &csv::ByteRecord,
        number: u64,
        sink: &mut dyn FnMut(InputLine) -> Result<(), E>,
    ) -> Result<(), E> {
        let Some(headers) = &self.headers else {
            self.headers = Some(row.iter().map(header).collect());
            return Ok(());
        };
        sink(InputLine {
            number,
            text: shown(row.as_slice_joined(self.delimiter).as_slice()),
            bytes: row.as_slice().len() + row.len(),
            object: object(headers, row),
        })
    }
}

/// Reports a row that is too long. Returns whether reading can continue after its line. It cannot if the row spans several lines,
/// because then it is unknown where the next row begins.
fn too_long<E: From<std::io::Error>>(
    error: csv::Error,
    number: u64,
    lines: u64,
    sink: &mut dyn FnMut(InputLine) -> Result<(), E>,
) -> Result<bool, E> {
    let reason = match error.into_kind() {
        csv::ErrorKind::Io(e) if e.kind() != std::io::ErrorKind::FileTooLarge => return Err(e.into()),
        _ if lines == 0 => format!("the row is longer than {MAX_LINE_BYTES} bytes, which a fact has at most"),
        _ => "a quote is opened here and not closed; nothing was read from here on".to_owned(),
    };
    sink(InputLine {
        number,
        text: String::new(),
        bytes: 0,
        object: Err(reason),
    })?;
    Ok(lines == 0)
}

fn skip_line(source: &mut dyn BufRead) -> std::io::Result<()> {
    loop {
        let buffer = source.fill_buf()?;
        let newline = buffer.iter().position(|b| *b == b'\n');
        let used = newline.map_or(buffer.len(), |at| at + 1);
        let ended = buffer.is_empty() || newline.is_some();
        source.consume(used);
        if ended {
            return Ok(());
        }
    }
}

trait Joined {
    fn as_slice_joined(&self, delimiter: u8) -> Vec<u8>;
}

impl Joined for csv::ByteRecord {
    /// The row approximately as it was in the file, for showing.
    fn as_slice_joined(&self, delimiter: u8) -> Vec<u8> {
        self.iter().collect::<Vec<_>>().join(&delimiter)
    }
}

/// The separator that the header row has most of: a comma, a semicolon or a tab.
fn delimiter(start: &[u8]) -> u8 {
    let first = start.split(|b| matches!(b, b'\n' | b'\r')).next().unwrap_or_default();
    let count = |separator: &u8| first.iter().filter(|b| *b == separator).count();
    // Of equally many the last counts.
    [b'\t', b';', b','].into_iter().max_by_key(count).unwrap_or(b',')
}

/// The keys that facts have. In a header they may stand in any case; a key that is not known here is kept as it is written.
const KEYS: [&str; 40] = [
    "kind",
    "at",
    "clock",
    "by",
    "job",
    "note",
    "purpose",
    "trailer",
    "vin",
    "fleet",
    "yard",
    "tracker",
    "camera",
    "wall",
    "load",
    "thickness",
    "assigned",
    "planned",
    "what",
    "code",
    "symbology",
    "check",
    "value",
    "unit",
    "ok",
    "answers",
    "uncertainty",
    "of",
    "why",
    "state",
    "picture",
    "taken_at",
    "taken_clock",
    "reason",
    "fact",
    "reference",
    "to",
    "text",
    "finding",
    "ruling",
];

fn header(cell: &[u8]) -> String {
    let text = String::from_utf8_lossy(cell);
    let text = text.trim_start_matches('\u{feff}').trim();
    let lower = text.to_ascii_lowercase();
    let outer = lower.split('.').next().unwrap_or_default();
    if KEYS.contains(&outer) { lower } else { text.to_owned() }
}

/// The longest header. Its names are keys in every row, so a header of a mebibyte would turn a file into terabytes of facts.
const MAX_HEADER_BYTES: usize = 64 << 10;

fn object(headers: &[String], row: &csv::ByteRecord) -> Result<Map<String, Value>, String> {
    let header_bytes: usize = headers.iter().map(String::len).sum();
    if header_bytes > MAX_HEADER_BYTES {
        return Err(format!(
            "the header row has {header_bytes} bytes; at most {MAX_HEADER_BYTES} are allowed"
        ));
    }
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
            .map_err(|_| format!("not UTF-8 in column `{}`", short(header)))?
            .trim();
        if header.bytes().filter(|b| *b == b'.').count() > MAX_DOTS {
            return Err(format!(
                "column `{}` is nested deeper than {MAX_DOTS} levels",
                short(header)
            ));
        }
        if !cell.is_empty() && !header.is_empty() {
            insert(&mut map, header, typed(header, cell))?;
        }
    }
    Ok(map)
}

/// The most dots in a header. More would nest deeper than a fact may.
const MAX_DOTS: usize = gladhand_facts::fact::MAX_DEPTH;

fn insert(map: &mut Map<String, Value>, header: &str, value: Value) -> Result<(), String> {
    let Some((outer, inner)) = header.split_once('.') else {
        return match map.insert(header.to_owned(), value) {
            None => Ok(()),
            Some(_) => Err(format!("column `{}` stands twice in the header", short(header))),
        };
    };
    let nested = map.entry(outer.to_owned()).or_insert_with(|| Value::Object(Map::new()));
    match nested {
        Value::Object(nested) => insert(nested, inner, value),
        _ => Err(format!(
            "columns `{}` and `{}` contradict each other",
            short(outer),
            short(header)
        )),
    }
}

/// A column's name for a message.
fn short(header: &str) -> String {
    let mut start: String = header.chars().take(60).collect();
    if start.len() < header.len() {
        start.push('…');
    }
    start
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
