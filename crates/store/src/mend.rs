//! Puts one wrong bit right: in the header of a segment, or in a batch.
//!
//! CRC-32 is linear: the difference between the sum that is stored and the sum of the bytes depends only on which bits are
//! wrong. Each single bit has a difference of its own up to 2^32 - 1 bits, far beyond the longest batch, so one pass over the
//! possible differences finds the bit.
//!
//! Deliberately absent: two wrong bits. A code that detects errors of several bits would then soon find a wrong answer that fits.
//!
//! Invariants: what was mended reads as a whole batch of this journal, and every record in it fits its own CRC too. A longer
//! error that looks like a single bit would have to lie in one record and point into that record: one in two million for a
//! record of 250 bytes. The hash chain of the logbook, which this crate does not know, still tells such a one.

use crate::found::{Expected, Found};
use crate::frame::{HEAD_LEN, Head, Records};
use crate::scan::{self, Span};
use crate::segment::{HEADER_LEN, Header, HeaderState};

const POLYNOMIAL: u32 = 0xedb8_8320;

/// One bit of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Bit {
    /// The byte that it is in.
    pub(crate) at: usize,
    mask: u8,
}

impl Bit {
    pub(crate) fn flip(self, bytes: &mut [u8]) {
        if let Some(byte) = bytes.get_mut(self.at) {
            *byte ^= self.mask;
        }
    }

    fn moved(self, by: usize) -> Self {
        Self {
            at: self.at + by,
            ..self
        }
    }
}

/// The bit that is wrong in bytes that end with their own CRC, if one bit explains the difference.
fn wrong_bit(bytes: &[u8]) -> Option<Bit> {
    let (covered, sum) = bytes.split_last_chunk::<4>()?;
    let wanted = crc32fast::hash(covered) ^ u32::from_le_bytes(*sum);
    // The difference that the last bit of the sum makes, and from there backwards bit by bit.
    let mut difference = 1u32 << 31;
    for at in (0..bytes.len()).rev() {
        for bit in (0..8).rev() {
            if difference == wanted {
                return Some(Bit { at, mask: 1 << bit });
            }
            let carry = difference & 1;
            difference = (difference >> 1) ^ (POLYNOMIAL * carry);
        }
    }
    None
}

/// Puts right what a single bit explains in a segment, and returns those bits.
pub(crate) fn segment(bytes: &mut [u8], file_len: u64, expected: Expected) -> Vec<Bit> {
    let mut mended = Vec::new();
    if Header::read(bytes) == HeaderState::Bad {
        mended.extend(header(bytes, expected.number));
        mended.iter().for_each(|bit| bit.flip(bytes));
    }
    // Only a header whose CRC holds can be too new, and the caller has looked at that.
    if let Ok(found) = Found::judge(bytes, file_len, expected) {
        let bad = found.survey.bad.iter().map(|bad| found.without_header(*bad));
        let bits: Vec<Bit> = bad.flat_map(|bad| batches(bad, found.header.salt)).collect();
        bits.iter().for_each(|bit| bit.flip(bytes));
        mended.extend(bits);
    }
    mended
}

/// The bit that makes a damaged header of segment `number` right again.
fn header(bytes: &[u8], number: u32) -> Option<Bit> {
    let mut header = bytes.get(..HEADER_LEN)?.to_vec();
    let bit = wrong_bit(&header)?;
    bit.flip(&mut header);
    match Header::read(&header) {
        HeaderState::Good(header) if header.number == number && header.previous < number => Some(bit),
        _ => None,
    }
}

/// The bits that make the batches in a bad stretch of a segment right again, one in each.
///
/// The first batch begins where the stretch begins; each next one is looked for where the one before it ends, as long as the
/// heads tell.
fn batches(bad: Span<'_>, salt: u64) -> Vec<Bit> {
    let (mut at, mut rest) = (bad.at, bad.bytes);
    let mut found = Vec::new();
    while let Some((bit, len)) = first_batch(rest, salt) {
        found.extend(bit.map(|bit| bit.moved(at)));
        at += len;
        rest = rest.get(len..).unwrap_or_default();
    }
    found
}

/// The wrong bit of the batch at the front of `bytes`, if it can be told, and the length of that batch.
fn first_batch(bytes: &[u8], salt: u64) -> Option<(Option<Bit>, usize)> {
    let is_ours = |head: &Head| head.salt == salt;
    if let Some(head) = Head::read(bytes).filter(is_ours) {
        let len = head.batch_len();
        let batch = bytes.get(..len)?;
        let bit = wrong_bit(batch).filter(|bit| reads_with(batch, *bit, salt));
        return Some((bit, len));
    }
    let mut head = bytes.get(..HEAD_LEN)?.to_vec();
    let bit = wrong_bit(&head)?;
    bit.flip(&mut head);
    let len = Head::read(&head).filter(is_ours)?.batch_len();
    let batch = bytes.get(..len)?;
    Some((Some(bit).filter(|bit| reads_with(batch, *bit, salt)), len))
}

/// Whether a batch is whole with this bit flipped, and each record in it fits its own CRC.
fn reads_with(batch: &[u8], bit: Bit, salt: u64) -> bool {
    let mut mended = batch.to_vec();
    bit.flip(&mut mended);
    let Some((whole, _)) = scan::batch_at(&mended, salt) else {
        return false;
    };
    let mut records = Records::of(whole.payload);
    while let Some((_, _, good)) = records.next_checked() {
        if !good {
            return false;
        }
    }
    records.is_whole()
}

#[cfg(test)]
#[path = "mend_tests.rs"]
mod tests;
