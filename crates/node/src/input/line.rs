//! One line of input, and how much of it is kept.

use std::io::{BufRead, Read};

use serde_json::{Map, Value};

/// One line of input, parsed or rejected.
#[derive(Debug)]
pub struct InputLine {
    /// Its number, counted from 1 as an editor does. In CSV the number of the line where the row begins.
    pub number: u64,
    /// The line for showing: cut if long, with replacement characters where it is not UTF-8.
    pub text: String,
    /// Its size in bytes, in CSV approximately.
    pub bytes: usize,
    /// The object, or why there is none.
    pub object: Result<Map<String, Value>, String>,
}

/// How much of a line is kept for showing.
pub const SHOWN_BYTES: usize = 4096;

/// A line for showing: replacement characters where it is not UTF-8, cut if long.
pub(super) fn shown(bytes: &[u8]) -> String {
    let cut = bytes.get(..SHOWN_BYTES).unwrap_or(bytes);
    let text = String::from_utf8_lossy(cut).trim_end_matches(['\r', '\n']).to_owned();
    if bytes.len() > SHOWN_BYTES {
        format!("{text}… ({} bytes in all)", bytes.len())
    } else {
        text
    }
}

/// Reads up to and including the next newline, keeps at most `keep` bytes and counts the rest. `None` at the end.
pub(super) fn bounded_line(source: &mut dyn BufRead, keep: usize) -> std::io::Result<Option<(Vec<u8>, usize)>> {
    let mut line = Vec::new();
    let mut total = (&mut *source).take(keep as u64 + 1).read_until(b'\n', &mut line)?;
    if total == 0 {
        return Ok(None);
    }
    while line.last() != Some(&b'\n') {
        let buffer = source.fill_buf()?;
        if buffer.is_empty() {
            break;
        }
        let newline = buffer.iter().position(|b| *b == b'\n');
        let used = newline.map_or(buffer.len(), |at| at + 1);
        source.consume(used);
        total += used;
        if newline.is_some() {
            break;
        }
    }
    Ok(Some((line, total)))
}
