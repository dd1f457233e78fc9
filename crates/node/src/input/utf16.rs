//! UTF-16 with a byte order mark, as spreadsheets write it, read as UTF-8.
//!
//! What is no UTF-16 becomes a byte that no UTF-8 has, so that its line is rejected and the others count.

use std::io::{BufRead, BufReader, Read, Result};

/// What stands for half a pair: a byte that is nowhere in UTF-8.
const NOT_TEXT: u8 = 0xff;

/// Reads `source`, whose byte order mark was read already, as UTF-8.
pub(super) fn as_utf8(source: &mut dyn BufRead, order: Order) -> impl BufRead + '_ {
    BufReader::new(Decoder {
        source,
        order,
        first: None,
        high: None,
        ready: Vec::new(),
        given: 0,
    })
}

/// Which byte of a unit comes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Order {
    Little,
    Big,
}

impl Order {
    /// The order that a byte order mark tells.
    pub(super) fn of_mark(mark: [u8; 2]) -> Option<Self> {
        match mark {
            [0xff, 0xfe] => Some(Self::Little),
            [0xfe, 0xff] => Some(Self::Big),
            _ => None,
        }
    }
}

struct Decoder<'s> {
    source: &'s mut dyn BufRead,
    order: Order,
    /// The first byte of a unit whose second is still to come.
    first: Option<u8>,
    /// The first half of a pair.
    high: Option<u16>,
    ready: Vec<u8>,
    given: usize,
}

impl Decoder<'_> {
    /// Decodes what can be read at once. `false`: the source has ended.
    fn decode_more(&mut self) -> Result<bool> {
        self.ready.clear();
        self.given = 0;
        let bytes = self.source.fill_buf()?.to_vec();
        self.source.consume(bytes.len());
        for byte in &bytes {
            match self.first.take() {
                None => self.first = Some(*byte),
                Some(first) => self.take(match self.order {
                    Order::Little => u16::from_le_bytes([first, *byte]),
                    Order::Big => u16::from_be_bytes([first, *byte]),
                }),
            }
        }
        if bytes.is_empty() && (self.first.take().is_some() || self.high.take().is_some()) {
            self.ready.push(NOT_TEXT);
        }
        Ok(!bytes.is_empty())
    }

    fn take(&mut self, unit: u16) {
        let units: Vec<u16> = self.high.take().into_iter().chain([unit]).collect();
        if units.len() == 1 && (0xd800..0xdc00).contains(&unit) {
            self.high = Some(unit);
            return;
        }
        for letter in char::decode_utf16(units) {
            match letter {
                Ok(letter) => self.ready.extend(letter.encode_utf8(&mut [0; 4]).bytes()),
                Err(_) => self.ready.push(NOT_TEXT),
            }
        }
    }
}

impl Read for Decoder<'_> {
    fn read(&mut self, into: &mut [u8]) -> Result<usize> {
        while self.given == self.ready.len() {
            if !self.decode_more()? && self.ready.is_empty() {
                return Ok(0);
            }
        }
        let rest = self.ready.get(self.given..).unwrap_or_default();
        let count = rest.len().min(into.len());
        for (to, from) in into.iter_mut().zip(rest) {
            *to = *from;
        }
        self.given += count;
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(bytes: &[u8], order: Order, at_once: usize) -> Vec<u8> {
        let mut source = BufReader::with_capacity(at_once, bytes);
        let mut text = Vec::new();
        as_utf8(&mut source, order).read_to_end(&mut text).unwrap();
        text
    }

    #[test]
    fn text_comes_through_in_both_orders_however_it_is_cut() {
        let text = "kind\tjob\nnote\tJ1 — 18 °C 😀\n";
        let little: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let big: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
        for at_once in [1, 2, 3, 7, 4096] {
            assert_eq!(read(&little, Order::Little, at_once), text.as_bytes());
            assert_eq!(read(&big, Order::Big, at_once), text.as_bytes());
        }
    }

    #[test]
    fn what_is_no_utf_16_is_no_utf_8_either() {
        for units in [&[0x41, 0xd800, 0x42][..], &[0xdc00], &[0x41, 0xd800]] {
            let bytes: Vec<u8> = units.iter().flat_map(|u: &u16| u.to_le_bytes()).collect();
            assert!(String::from_utf8(read(&bytes, Order::Little, 4096)).is_err());
        }
        assert!(String::from_utf8(read(&[0x41, 0, 0x42], Order::Little, 1)).is_err());
    }
}
