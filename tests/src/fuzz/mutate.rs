//! Changing inputs: bytes, varints, lines, values; splicing two inputs.

use super::MAX_INPUT_BYTES;
use crate::SeededRng;

/// What inputs are like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Bytes with varints and lengths in them.
    Bytes,
    /// Lines of text with keys and values.
    Text,
}

/// One of `pool`, changed in one way, seldom in several: most are to get past the first check.
pub fn mutated(rng: &mut SeededRng, pool: &[&[u8]], kind: Kind) -> Vec<u8> {
    let mut bytes = rng.pick(pool).to_vec();
    let ways = *rng.pick(&[1, 1, 1, 1, 2, 2, 3, 6]);
    for _ in 0..ways {
        match (kind, rng.below(4)) {
            (Kind::Text, 0) => line(rng, &mut bytes),
            (Kind::Text, 1 | 2) => value(rng, &mut bytes),
            _ => plain(rng, &mut bytes, pool),
        }
        bytes.truncate(MAX_INPUT_BYTES);
    }
    bytes
}

fn range(rng: &mut SeededRng, len: usize) -> std::ops::Range<usize> {
    let from = rng.below(len + 1);
    let most = if rng.below(4) == 0 { len } else { 24 };
    from..(from + rng.below(most.min(len - from) + 1))
}

fn put(bytes: &mut Vec<u8>, at: usize, what: &[u8]) {
    bytes.splice(at..at, what.iter().copied());
}

/// Ways that need no idea of the format.
fn plain(rng: &mut SeededRng, bytes: &mut Vec<u8>, pool: &[&[u8]]) {
    let at = rng.below(bytes.len() + 1);
    let part = range(rng, bytes.len());
    match rng.below(12) {
        0 | 1 => {
            if let Some(byte) = bytes.get_mut(at) {
                *byte ^= 1 << rng.below(8);
            }
        }
        2 => {
            if let Some(byte) = bytes.get_mut(at) {
                *byte = *rng.pick(&[0, 1, 0x7f, 0x80, 0xff, b'\n', b'"']);
            }
        }
        3 => drop(bytes.drain(part)),
        4 => bytes.truncate(at),
        5 => {
            let copy = bytes[part].to_vec();
            let times = if rng.below(8) == 0 { 400 } else { 1 + rng.below(3) };
            put(bytes, at, &copy.repeat(times));
        }
        6 => {
            let other = *rng.pick(pool);
            let from = rng.below(other.len() + 1);
            bytes.truncate(at);
            bytes.extend_from_slice(&other[from..]);
        }
        7 => {
            let other = *rng.pick(pool);
            let taken = range(rng, other.len());
            put(bytes, at, &other[taken]);
        }
        8 => bytes[part].fill(0),
        9 => {
            let number = numbers(rng);
            put(bytes, at, &number);
        }
        10 => {
            let number = numbers(rng);
            let end = (at + number.len()).min(bytes.len());
            bytes.splice(at..end, number);
        }
        _ => {
            let (from, copy) = (part.start, bytes[part.clone()].to_vec());
            bytes.drain(part);
            let to = rng.below(bytes.len() + 1);
            put(bytes, if from == to { 0 } else { to }, &copy);
        }
    }
}

/// A varint, or four or eight bytes, of a number at some border.
pub fn numbers(rng: &mut SeededRng) -> Vec<u8> {
    let shift = rng.below(64);
    let near = [0, 1, 2].map(|n| (1u64 << shift).wrapping_add(n).wrapping_sub(1));
    let number = *rng.pick(&[
        near[0],
        near[1],
        near[2],
        u64::MAX,
        i64::MAX as u64,
        u64::from(u32::MAX),
    ]);
    match rng.below(5) {
        0 => number.to_le_bytes().to_vec(),
        1 => (number as u32).to_le_bytes().to_vec(),
        2 => vec![0xff; 11],
        _ => varint(number),
    }
}

fn varint(mut number: u64) -> Vec<u8> {
    let mut out = Vec::new();
    while number >= 0x80 {
        out.push(number as u8 | 0x80);
        number >>= 7;
    }
    out.push(number as u8);
    out
}

/// Whole lines: twice, gone, elsewhere, with another end, before a mark, very long.
fn line(rng: &mut SeededRng, bytes: &mut Vec<u8>) {
    let mut lines: Vec<Vec<u8>> = bytes.split_inclusive(|b| *b == b'\n').map(<[u8]>::to_vec).collect();
    let Some(last) = lines.len().checked_sub(1) else { return };
    let (one, two) = (rng.below(last + 1), rng.below(last + 1));
    match rng.below(7) {
        0 => {
            let copy = lines[one].clone();
            lines.insert(two, copy);
        }
        1 => drop(lines.remove(one)),
        2 => lines.swap(one, two),
        3 => lines[one].splice(0..0, *b"\xef\xbb\xbf").for_each(drop),
        4 => {
            let end = lines[one].len().saturating_sub(1);
            lines[one].insert(end, b'\r');
        }
        5 => {
            let at = rng.below(lines[one].len() + 1);
            let filler = *rng.pick(b" x9[.\"");
            let many = *rng.pick(&[200, 5_000, 70_000]);
            lines[one].splice(at..at, std::iter::repeat_n(filler, many));
        }
        _ => lines[one].clear(),
    }
    *bytes = lines.concat();
}

/// Puts something exotic where a value stands (behind a colon, equals sign or comma), or the value of somewhere else.
fn value(rng: &mut SeededRng, bytes: &mut Vec<u8>) {
    let starts: Vec<usize> = (0..bytes.len())
        .filter(|at| matches!(bytes[*at], b':' | b'=' | b',' | b'{'))
        .map(|at| at + 1)
        .collect();
    if starts.is_empty() {
        return;
    }
    let at = *rng.pick(&starts);
    let end = end_of_value(bytes, at);
    if rng.below(4) == 0 {
        let from = *rng.pick(&starts);
        let copy = bytes[from..end_of_value(bytes, from)].to_vec();
        bytes.splice(at..end, copy);
        return;
    }
    let exotic = *rng.pick(&EXOTIC);
    let quoted = match rng.below(3) {
        0 => exotic.as_bytes().to_vec(),
        1 => [b" \"", exotic.as_bytes(), b"\""].concat(),
        _ if rng.below(6) == 0 => nested(rng),
        _ => [b"\"", exotic.as_bytes(), b"\""].concat(),
    };
    bytes.splice(at..end, quoted);
}

fn end_of_value(bytes: &[u8], at: usize) -> usize {
    let mut quoted = false;
    for (i, byte) in bytes.iter().enumerate().skip(at) {
        match byte {
            b'"' => quoted = !quoted,
            b'\n' => return i,
            b',' | b'}' | b']' if !quoted => return i,
            _ => {}
        }
    }
    bytes.len()
}

/// A value within values within values.
fn nested(rng: &mut SeededRng) -> Vec<u8> {
    let deep = *rng.pick(&[3, 100, 127, 128, 5_000]);
    match rng.below(3) {
        0 => [b"[".repeat(deep), b"]".repeat(deep)].concat(),
        1 => [b"{\"a\":".repeat(deep), b"1".to_vec(), b"}".repeat(deep)].concat(),
        _ => b"a.".repeat(deep),
    }
}

const EXOTIC: [&str; 93] = [
    "",
    " ",
    "null",
    "true",
    "false",
    "yes",
    "no",
    "0",
    "-0",
    "-0.0",
    "1e999",
    "-1e999",
    "1e308",
    "1e-999",
    "1e400",
    "5e-324",
    "0x10",
    "1_000",
    "+1",
    "01",
    ".5",
    "5.",
    "9007199254740993",
    "18446744073709551615",
    "18446744073709551616",
    "-9223372036854775808",
    "9223372036854775807",
    "0.1",
    "0.30000000000000004",
    "1E+2",
    "NaN",
    "Infinity",
    "inf",
    "-inf",
    "nan",
    "٣",
    "½",
    "1 1/2",
    "1 3/4 in",
    "3/4 in",
    "1/0 in",
    "0/0 in",
    "-1/2 in",
    "99999999999999999999/3 in",
    "1/18446744073709551615 in",
    "-9223372036854775808/-1 in",
    "9223372036854775807 1/2 in",
    "19 mm",
    "19mm",
    "1.75\\\"",
    "5 ft 3 in",
    "5 min",
    "1e5 h",
    "-40 °C",
    "12 V",
    "12.6 volts",
    "0.75in",
    "2026-03-02T16:00:00-05:00",
    "2026-06-30T23:59:60Z",
    "2016-12-31T23:59:60Z",
    "9999-12-31T23:59:59Z",
    "9999-12-31T23:59:59-14:00",
    "9999-12-31T23:59:59.999999999-23:59",
    "0000-01-01T00:00:00Z",
    "0000-01-01T00:00:00+14:00",
    "-0001-01-01T00:00:00Z",
    "2026-02-29T00:00:00Z",
    "2024-02-29T00:00:00+14:00",
    "2026-03-02T16:00:00+14:00",
    "2026-03-02T16:00:00-12:00",
    "2026-03-02T16:00:00+25:00",
    "2026-03-02T24:00:00Z",
    "2026-03-02t16:00:00z",
    "2026-03-02 16:00:00Z",
    "2026-03-02T16:00:00.1234567890123Z",
    "2026-03-02T16:00",
    "1970-01-01T00:00:00-00:00",
    "\\u0000",
    "\\ud800",
    "\\ud83d\\ude00",
    "e\u{301}",
    "\u{202e}abc",
    "\u{feff}",
    "\u{0}",
    "a\u{7f}b",
    "blake3:00",
    "job",
    "stock",
    "reference",
    "accepted",
    "loaded",
    "sheet-and-post",
    "LC-LT91Z9J",
];
