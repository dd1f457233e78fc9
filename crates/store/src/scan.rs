//! Finds the batches in the bytes of a segment, and steps over whatever is not one.
//!
//! Bytes in, spans out: no file is touched here, and no bytes can make it panic or take more than a few
//! passes. After damage it looks for the next place where a whole batch with this journal's salt stands.

use gladhand_facts::LogId;

use crate::frame::{self, HEAD_LEN, Head, MAGIC, Records};

/// A run of bytes in a segment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Span {
    pub(crate) at: usize,
    pub(crate) len: usize,
}

impl Span {
    pub(crate) fn end(&self) -> usize {
        self.at + self.len
    }

    pub(crate) fn of<'a>(&self, bytes: &'a [u8]) -> &'a [u8] {
        bytes.get(self.at..self.end()).unwrap_or_default()
    }
}

/// What the bytes of a segment hold.
#[derive(Debug, Default, PartialEq, Eq)]
pub(crate) struct Survey {
    /// Good batches in order, seals left out.
    pub(crate) batches: Vec<Span>,
    /// What stands between them and is not a good batch.
    pub(crate) bad: Vec<Span>,
    /// Whether the last good thing is a seal.
    pub(crate) sealed: bool,
}

/// Looks through a segment from `at` on, where a batch is expected.
pub(crate) fn survey(bytes: &[u8], mut at: usize, salt: u64) -> Survey {
    let mut survey = Survey::default();
    while at < bytes.len() {
        if let Some(span) = batch_at(bytes, at, salt) {
            at = span.end();
            survey.add(span);
        } else {
            let next = next_batch(bytes, at + 1, salt);
            survey.bad.push(Span { at, len: next - at });
            at = next;
        }
    }
    survey
}

impl Survey {
    fn add(&mut self, span: Span) {
        let is_seal = span.len == HEAD_LEN + frame::TAIL_LEN;
        self.sealed = is_seal;
        if !is_seal {
            self.batches.push(span);
        }
    }
}

/// The good batch that stands at `at`, if one does.
pub(crate) fn batch_at(bytes: &[u8], at: usize, salt: u64) -> Option<Span> {
    let payload = frame::read_batch(bytes.get(at..)?, salt)?;
    let mut records = Records::of(payload);
    records.by_ref().for_each(drop);
    let len = HEAD_LEN + payload.len() + frame::TAIL_LEN;
    records.is_whole().then_some(Span { at, len })
}

/// Where the next good batch begins at or after `from`; the end of the bytes when there is none.
fn next_batch(bytes: &[u8], from: usize, salt: u64) -> usize {
    magics(bytes, from)
        .find(|at| batch_at(bytes, *at, salt).is_some())
        .unwrap_or(bytes.len())
}

fn magics(bytes: &[u8], from: usize) -> impl Iterator<Item = usize> + '_ {
    let rest = bytes.get(from..).unwrap_or_default();
    rest.windows(MAGIC.len())
        .enumerate()
        .filter(|(_, window)| **window == MAGIC)
        .map(move |(i, _)| from + i)
}

/// The salt of a segment whose header is lost, taken from the first batch in it that is good in itself.
///
/// Here alone a batch is believed for what it says of itself, so the work is bounded: hostile bytes could
/// otherwise ask for a checksum of the whole file at each of a million places.
pub(crate) fn guess_salt(bytes: &[u8]) -> Option<u64> {
    let mut budget = 1usize << 30;
    magics(bytes, 0).find_map(|at| {
        let head = Head::read(bytes.get(at..)?)?;
        budget = budget.checked_sub(head.batch_len())?;
        batch_at(bytes, at, head.salt).map(|_| head.salt)
    })
}

/// What a damaged batch still says about which records it held. Each is vouched for by its own CRC.
#[derive(Debug, Default)]
pub(crate) struct Hints {
    pub(crate) records: Vec<(LogId, u64)>,
    /// Whether the walk came to the end of the bad bytes, so that nothing else was in them.
    pub(crate) complete: bool,
}

/// Walks a bad run of bytes as if a batch began there.
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
