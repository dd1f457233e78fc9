//! Fact lines from files and pipes: JSON Lines and CSV, read with bounds, each line good or rejected on its own.
//!
//! Blank lines are skipped. UTF-8, or UTF-16 with a byte order mark.
//!
//! Deliberately absent: what a line means (crate `facts`), and recording it ([`crate::intake`]).
//!
//! Invariants: a bad line never stops the lines after it, and is passed on with its number, the reason and its text; memory is
//! bounded, whatever the length of a line or row.

mod csv_lines;
mod json_lines;
mod line;
mod utf16;

use std::io::{BufRead, Read};

pub use line::{InputLine, SHOWN_BYTES};
use utf16::Order;

/// The format of a source.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// One JSON object a line.
    JsonLines,
    /// Values under a header row, with commas, semicolons or tabs between them.
    Csv,
}

impl Format {
    /// The format by the ending of a file's name, if it is known.
    pub fn of_name(name: &str) -> Option<Self> {
        let ending = name.rsplit_once('.').map(|(_, e)| e.to_ascii_lowercase());
        match ending.as_deref() {
            Some("jsonl" | "ndjson" | "json") => Some(Self::JsonLines),
            Some("csv") => Some(Self::Csv),
            _ => None,
        }
    }

    /// The format by the first line: a header row with a `kind` column is CSV, everything else is JSON Lines.
    pub fn of_start(start: &[u8]) -> Self {
        let first = start
            .split(|b| *b == b'\n')
            .map(<[u8]>::trim_ascii)
            .find(|l| !l.is_empty())
            .unwrap_or_default();
        let first = first.strip_prefix(b"\xef\xbb\xbf").unwrap_or(first);
        let is_kind = |cell: &[u8]| {
            let cell = cell.trim_ascii();
            let bare = cell
                .strip_prefix(b"\"")
                .and_then(|c| c.strip_suffix(b"\""))
                .unwrap_or(cell);
            bare.trim_ascii().eq_ignore_ascii_case(b"kind")
        };
        let has_kind = first.split(|b| matches!(b, b',' | b';' | b'\t')).any(is_kind);
        if has_kind && !first.starts_with(b"{") {
            Self::Csv
        } else {
            Self::JsonLines
        }
    }
}

/// Reads lines of `format`, or of the format by [`Format::of_start`], and passes each to `sink`.
///
/// # Errors
/// Only when the source itself fails; bad lines go to `sink`.
pub fn read_lines<E: From<std::io::Error>>(
    source: &mut dyn BufRead,
    format: Option<Format>,
    sink: &mut dyn FnMut(InputLine) -> Result<(), E>,
) -> Result<(), E> {
    let starts_like_a_mark = matches!(source.fill_buf()?.first(), Some(0xff | 0xfe));
    if !starts_like_a_mark {
        return read_utf8_lines(source, format, sink);
    }
    let mut start = Vec::new();
    (&mut *source).take(2).read_to_end(&mut start)?;
    match start.as_slice().try_into().ok().and_then(Order::of_mark) {
        Some(order) => read_utf8_lines(&mut utf16::as_utf8(source, order), format, sink),
        None => read_utf8_lines(&mut std::io::Cursor::new(start).chain(source), format, sink),
    }
}

fn read_utf8_lines<E: From<std::io::Error>>(
    source: &mut dyn BufRead,
    format: Option<Format>,
    sink: &mut dyn FnMut(InputLine) -> Result<(), E>,
) -> Result<(), E> {
    let format = match format {
        Some(format) => format,
        None => Format::of_start(source.fill_buf()?),
    };
    match format {
        Format::JsonLines => json_lines::read(source, sink),
        Format::Csv => csv_lines::read(source, sink),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    fn read(bytes: &[u8], format: Option<Format>) -> Vec<InputLine> {
        let mut lines = Vec::new();
        read_lines::<std::io::Error>(&mut std::io::Cursor::new(bytes), format, &mut |line| {
            lines.push(line);
            Ok(())
        })
        .unwrap();
        lines
    }

    #[test]
    fn the_beginning_tells_the_format() {
        assert_eq!(Format::of_start(b"\n kind,job\nlink,J1\n"), Format::Csv);
        assert_eq!(Format::of_start(b"\xef\xbb\xbf\"job\",\"kind\"\n"), Format::Csv);
        assert_eq!(Format::of_start(b"Job\tKIND\n"), Format::Csv);
        assert_eq!(Format::of_start(b"{\"kind\":\"job\"}\n"), Format::JsonLines);
        assert_eq!(Format::of_start(b"garbage\n"), Format::JsonLines);
    }

    #[test]
    fn a_table_of_a_spreadsheet_reads_like_a_plain_one() {
        let plain = read(b"kind,job,check,value,answers.lens-clear\nproof,J1,,3/8 in,yes\n", None);
        let table = "KIND\tJob\tCheck\tVALUE\tAnswers.Lens-Clear\r\nproof\tJ1\t\t3/8 in\tyes\r\n";
        let wide: Vec<u8> = "\u{feff}"
            .encode_utf16()
            .chain(table.encode_utf16())
            .flat_map(u16::to_le_bytes)
            .collect();
        for bytes in [table.as_bytes(), &wide, table.replace('\t', ";").as_bytes()] {
            let lines = read(bytes, Some(Format::Csv));
            assert_eq!(lines[0].object, plain[0].object);
            assert_eq!(read(bytes, None)[0].object, plain[0].object, "the beginning tells");
        }
        // A key that nobody knows is kept as it is written.
        let lines = read(b"kind,SerialNo\nnote,7\n", None);
        assert!(lines[0].object.as_ref().unwrap().contains_key("SerialNo"));
        let lines = read(b"\xff\x41\n{\"kind\":\"note\"}\n", None);
        assert!(lines[0].object.is_err() && lines[1].object.is_ok(), "no mark after all");
    }

    #[test]
    fn json_lines_keep_their_numbers_and_their_faults() {
        let lines = read(
            b"{\"kind\":\"note\",\"text\":\"a\"}\r\n\n{broken\n\"x\"\n{\"k\":\"\xff\"}\n{\"kind\":\"b\"}",
            None,
        );
        let numbers: Vec<_> = lines.iter().map(|l| (l.number, l.object.is_ok())).collect();
        assert_eq!(numbers, [(1, true), (3, false), (4, false), (5, false), (6, true)]);
        assert!(lines[1].object.as_ref().unwrap_err().contains("column 2"));
        assert!(lines[3].object.as_ref().unwrap_err().contains("not UTF-8"));
        assert_eq!(lines[1].text, "{broken");
    }

    #[test]
    fn a_line_of_fifty_megabytes_takes_little_memory_and_the_next_one_still_counts() {
        let mut bytes = vec![b'x'; 50 << 20];
        bytes.extend_from_slice(b"\n{\"kind\":\"note\",\"text\":\"after\"}\n");
        let lines = read(&bytes, Some(Format::JsonLines));
        assert_eq!(lines.len(), 2);
        assert!(lines[0].object.as_ref().unwrap_err().contains("52428801 bytes"));
        assert!(lines[0].text.len() < 5000 && lines[1].object.is_ok());
    }

    #[test]
    fn csv_becomes_the_same_objects() {
        let text = b"kind,job,check,value,unit,ok,answers.lens-clear,answers.front-wall-seen,camera\n\
                     check,J1,placement-top,1.5,in,,,,\n\
                     check,J1,hole,\"1 3/4\",in,true,,,\n\
                     proof,J1,,,,yes,true,no,00123\n";
        let lines = read(text, None);
        let object = |i: usize| Value::Object(lines[i].object.clone().unwrap()).to_string();
        assert_eq!(
            object(0),
            r#"{"check":"placement-top","job":"J1","kind":"check","unit":"in","value":1.5}"#
        );
        assert_eq!(
            object(1),
            r#"{"check":"hole","job":"J1","kind":"check","ok":true,"unit":"in","value":"1 3/4"}"#
        );
        assert_eq!(
            object(2),
            r#"{"answers":{"front-wall-seen":false,"lens-clear":true},"camera":"00123","job":"J1","kind":"proof","ok":true}"#
        );
        assert_eq!(lines.iter().map(|l| l.number).collect::<Vec<_>>(), [2, 3, 4]);
    }

    #[test]
    fn bad_csv_rows_do_not_spoil_the_others() {
        let lines = read(
            b"kind,job\nsign-off,J1\nsign-off,J2,extra\nsign-off,\xff\nsign-off,J3\n",
            None,
        );
        assert_eq!(
            lines.iter().map(|l| l.object.is_ok()).collect::<Vec<_>>(),
            [true, false, false, true]
        );
        assert!(lines[1].object.as_ref().unwrap_err().contains("3 cells"));
        assert!(lines[2].object.as_ref().unwrap_err().contains("not UTF-8"));
    }

    /// Found by the target `csv` of `tests/tests/fuzz`: with CRLF, or behind a blank line, the line before was named.
    #[test]
    fn csv_rows_are_counted_as_an_editor_counts() {
        let numbers = |text: &str| -> Vec<u64> {
            let found = read(text.as_bytes(), Some(Format::Csv));
            found.iter().map(|l| l.number).collect()
        };
        let text = "kind,text\nnote,a\n\n\nnote,\"b\nc\"\nnote,d\n";
        assert_eq!(numbers(text), [2, 5, 7]);
        assert_eq!(numbers(&text.replace('\n', "\r\n")), [2, 5, 7]);
        assert_eq!(numbers(&text.replace('\n', "\r")), [2, 5, 7]);
        let long = format!("kind,text\r\nnote,{}\r\nnote,b\r\n", "x".repeat(3 << 20));
        assert_eq!(numbers(&long), [2, 3]);
    }

    /// Found by the target `csv` of `tests/tests/fuzz`: the stack ran over, and the daemon with it.
    #[test]
    fn a_csv_header_of_thirty_thousand_dots_is_refused() {
        let text = format!("kind,{}b\nnote,1\n", "a.".repeat(30_000));
        let lines = read(text.as_bytes(), Some(Format::Csv));
        let refused = lines[0].object.as_ref().unwrap_err();
        assert!(refused.contains("nested deeper") && refused.len() < 200, "{refused}");
    }

    /// Found by the target `csv` of `tests/tests/fuzz`: the name stood in the reason of each row, and in `rejected/`.
    #[test]
    fn a_csv_header_of_a_mebibyte_is_told_of_in_a_line() {
        for len in [60_000, 1_000_000] {
            let text = format!("kind,{}\nnote,\u{1}\n", "9".repeat(len));
            let mut bytes = text.into_bytes();
            *bytes.iter_mut().rev().nth(1).unwrap() = 0xff;
            let lines = read(&bytes, Some(Format::Csv));
            let refused = lines[0].object.as_ref().unwrap_err();
            assert!(refused.len() < 200, "{refused}");
        }
    }

    #[test]
    fn a_csv_row_that_never_ends_takes_little_memory() {
        let mut long = b"kind,text\nnote,a\nnote,".to_vec();
        long.extend(std::iter::repeat_n(b'x', 50 << 20));
        long.extend_from_slice(b"\nnote,b\nnote,c\n");
        let lines = read(&long, Some(Format::Csv));
        let numbers: Vec<_> = lines.iter().map(|l| (l.number, l.object.is_ok())).collect();
        assert_eq!(numbers, [(2, true), (3, false), (4, true), (5, true)]);
        let mut open = b"kind,text\nnote,a\nnote,\"never closed\n".to_vec();
        open.extend(b"note,b\n".repeat(1 << 20));
        let lines = read(&open, Some(Format::Csv));
        assert_eq!(lines.len(), 2);
        assert!(lines[1].number == 3 && lines[1].object.as_ref().unwrap_err().contains("quote"));
    }
}
