//! Finds the batches in the bytes of a segment, and steps over whatever is not one.
//!
//! No file is touched here, and no bytes can make it panic or take more than a few passes. After damage it looks for the next
//! place where a whole batch with this journal's salt begins.

use gladhand_facts::LogId;

use crate::frame::{self, HEAD_LEN, Head, MAGIC, Records, WholeBatch};

/// A run of bytes in a segment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Span<'a> {
    pub(crate) at: usize,
    pub(crate) bytes: &'a [u8],
}

impl Span<'_> {
    pub(crate) fn end(&self) -> usize {
        self.at + self.bytes.len()
    }
}

/// A good batch in a segment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct PlacedBatch<'a> {
    pub(crate) at: usize,
    pub(crate) batch: WholeBatch<'a>,
}

impl PlacedBatch<'_> {
    pub(crate) fn end(&self) -> usize {
        self.at + self.batch.bytes.len()
    }
}

/// What the bytes of a segment hold.
#[derive(Debug, Default, PartialEq, Eq)]
pub(crate) struct Survey<'a> {
    /// Good batches in order, without seals.
    pub(crate) batches: Vec<PlacedBatch<'a>>,
    /// What is between them and is not a good batch.
    pub(crate) bad: Vec<Span<'a>>,
    /// Whether the last good batch is a seal.
    pub(crate) sealed: bool,
}

/// Looks through a segment from `at` on, where a batch is expected. A segment that is shorter than that has none.
pub(crate) fn survey(bytes: &[u8], mut at: usize, salt: u64) -> Survey<'_> {
    let mut survey = Survey::default();
    let mut rest = bytes.get(at..).unwrap_or_default();
    while !rest.is_empty() {
        if let Some((batch, after)) = batch_at(rest, salt) {
            survey.add(PlacedBatch { at, batch });
            (at, rest) = (at + batch.bytes.len(), after);
        } else {
            let (bad, after) = rest.split_at(next_batch(rest, salt));
            survey.bad.push(Span { at, bytes: bad });
            (at, rest) = (at + bad.len(), after);
        }
    }
    survey
}

impl<'a> Survey<'a> {
    fn add(&mut self, placed: PlacedBatch<'a>) {
        self.sealed = placed.batch.is_seal();
        if !self.sealed {
            self.batches.push(placed);
        }
    }
}

/// The good batch at the front of `bytes`, and the bytes after it.
pub(crate) fn batch_at(bytes: &[u8], salt: u64) -> Option<(WholeBatch<'_>, &[u8])> {
    let (batch, rest) = frame::read_batch(bytes, salt)?;
    let mut records = Records::of(batch.payload);
    records.by_ref().for_each(drop);
    records.is_whole().then_some((batch, rest))
}

/// After how many bytes, at least one, the next good batch begins; all of them when there is none.
fn next_batch(bytes: &[u8], salt: u64) -> usize {
    let is_good = |(at, rest): &(usize, &[u8])| *at > 0 && batch_at(rest, salt).is_some();
    magics(bytes).find(is_good).map_or(bytes.len(), |(at, _)| at)
}

/// Where a batch may begin: each place of the magic, with the bytes from there on.
fn magics(bytes: &[u8]) -> impl Iterator<Item = (usize, &[u8])> + '_ {
    let places = bytes.windows(MAGIC.len()).enumerate();
    places
        .filter(|(_, window)| **window == MAGIC)
        .filter_map(|(at, _)| Some((at, bytes.get(at..)?)))
}

/// The salt of a segment whose header is lost, taken from the first batch in it that is good in itself.
///
/// Only here is a batch believed for what it says of itself, so the work is bounded: hostile bytes could otherwise ask for a
/// checksum of the whole file at each of a million places.
pub(crate) fn guess_salt(bytes: &[u8]) -> Option<u64> {
    let mut budget = 1usize << 30;
    magics(bytes).find_map(|(_, rest)| {
        let head = Head::read(rest)?;
        budget = budget.checked_sub(head.batch_len())?;
        batch_at(rest, head.salt).map(|_| head.salt)
    })
}

/// The records that a damaged batch still shows. Each is good by its own CRC.
#[derive(Debug, Default)]
pub(crate) struct Hints {
    pub(crate) records: Vec<(LogId, u64)>,
    /// Whether the records fill the bad bytes, so that nothing else was in them.
    pub(crate) complete: bool,
}

/// Reads a bad run of bytes as if a batch began there, as far as its bytes are there.
pub(crate) fn hints(bad: &[u8]) -> Hints {
    let payload = match Head::read(bad) {
        Some(head) => bad
            .get(HEAD_LEN..)
            .map(|rest| rest.get(..head.payload_len).unwrap_or(rest)),
        None => bad.get(HEAD_LEN..bad.len().saturating_sub(frame::TAIL_LEN)),
    };
    let payload = payload.unwrap_or_default();
    let mut hints = Hints::default();
    let mut records = Records::of(payload);
    while let Some((_, record, good)) = records.next_checked() {
        if good {
            hints.records.push((record.log, record.seq));
        }
    }
    hints.complete = records.is_whole() && HEAD_LEN + payload.len() + frame::TAIL_LEN == bad.len();
    hints
}

#[cfg(test)]
#[path = "scan_tests.rs"]
mod tests;
