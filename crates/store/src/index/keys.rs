//! Keys and places as bytes. The table of prefixes is in the module doc of `index.rs`.

use std::collections::BTreeMap;

use gladhand_facts::{DeviceKey, FactId, LogId, Place, varint};

use super::error::IndexError;
use super::guard::Guarded;
use crate::wire::Cursor;

pub(super) const APPLIED: &[u8] = &[1];
const LOG: u8 = 2;
const POSTING: u8 = 3;
const FACT: u8 = 4;
const VALUE: u8 = 5;

/// A number whose bytes sort as it does: how many bytes, then those, high ones first.
fn put_ordered(out: &mut Vec<u8>, value: u64) {
    let bytes = value.to_be_bytes();
    let used = 8 - value.leading_zeros() as usize / 8;
    out.push(used as u8);
    out.extend(bytes.iter().skip(8 - used));
}

fn put_escaped(out: &mut Vec<u8>, subject: &[u8]) {
    for byte in subject {
        out.push(*byte);
        if *byte == 0 {
            out.push(0xff);
        }
    }
}

/// The postings of one subject from one batch.
pub(super) fn posting(subject: &[u8], count: u64) -> Vec<u8> {
    let mut key = subject_start(subject);
    put_ordered(&mut key, count);
    key
}

/// What all postings of one subject begin with.
pub(super) fn subject_start(subject: &[u8]) -> Vec<u8> {
    let mut key = subjects(subject);
    key.extend([0, 0]);
    key
}

/// What all postings of subjects that begin with `prefix` begin with.
pub(super) fn subjects(prefix: &[u8]) -> Vec<u8> {
    let mut key = Vec::with_capacity(prefix.len() + 16);
    key.push(POSTING);
    put_escaped(&mut key, prefix);
    key
}

/// After all postings of one subject, before those of the next.
pub(super) fn subject_end(subject: &[u8]) -> Vec<u8> {
    let mut key = subjects(subject);
    key.extend([0, 1]);
    key
}

/// The subject in the key of a posting.
pub(super) fn subject_of(key: &[u8]) -> Option<Vec<u8>> {
    let mut bytes = key.strip_prefix(&[POSTING])?.iter();
    let mut subject = Vec::new();
    loop {
        match *bytes.next()? {
            0 => match *bytes.next()? {
                0 => return Some(subject),
                0xff => subject.push(0),
                _ => return None,
            },
            byte => subject.push(byte),
        }
    }
}

pub(super) fn fact(fact: &FactId) -> Vec<u8> {
    [[FACT].as_slice(), &fact.0].concat()
}

/// What the keys of all facts begin with whose ids begin with these bytes.
pub(super) fn facts(start: &[u8]) -> Vec<u8> {
    [[FACT].as_slice(), start].concat()
}

/// The fact in the key of its place.
pub(super) fn fact_of(key: &[u8]) -> Option<FactId> {
    let id = key.strip_prefix(&[FACT])?.try_into().ok()?;
    Some(FactId(id))
}

pub(super) fn value(key: &[u8]) -> Vec<u8> {
    [[VALUE].as_slice(), key].concat()
}

/// The caller's part of the key of a value.
pub(super) fn value_key(key: &[u8]) -> Option<&[u8]> {
    key.strip_prefix(&[VALUE])
}

fn log_key(log: &LogId) -> Vec<u8> {
    [[LOG].as_slice(), &log.device.0, &log.incarnation.to_be_bytes()].concat()
}

fn log_of(key: &[u8]) -> Option<LogId> {
    let mut cursor = Cursor::new(key.strip_prefix(&[LOG])?);
    let device = DeviceKey(cursor.array()?);
    let incarnation = u64::from_be_bytes(cursor.array()?);
    cursor.is_at_end().then_some(LogId { device, incarnation })
}

/// Small numbers for logs, in the order in which the index first had them.
#[derive(Debug, Clone, Default)]
pub(super) struct LogNumbers {
    by_log: BTreeMap<LogId, u32>,
    logs: Vec<LogId>,
}

impl LogNumbers {
    pub(super) fn load(db: &Guarded) -> Result<Self, IndexError> {
        let rows = db.call(|db| db.scan_prefix([LOG]).collect::<sled::Result<Vec<_>>>())?;
        let mut by_log = BTreeMap::new();
        let mut by_number = BTreeMap::new();
        for (key, value) in rows {
            let number = value.as_ref().try_into().ok().map(u32::from_be_bytes);
            let (Some(log), Some(number)) = (log_of(&key), number) else {
                return Err(db.broken("the table of logs does not decode"));
            };
            by_log.insert(log, number);
            by_number.insert(number, log);
        }
        let whole = by_number.len() == by_log.len() && by_number.keys().copied().eq(0..by_log.len() as u32);
        if !whole {
            return Err(db.broken("the table of logs has a gap"));
        }
        Ok(Self {
            by_log,
            logs: by_number.into_values().collect(),
        })
    }

    pub(super) fn len(&self) -> usize {
        self.logs.len()
    }

    /// The number of a log; one that has none gets the next.
    fn number(&mut self, log: LogId, writes: &mut sled::Batch) -> u32 {
        if let Some(number) = self.by_log.get(&log) {
            return *number;
        }
        let number = self.logs.len() as u32;
        self.by_log.insert(log, number);
        self.logs.push(log);
        writes.insert(log_key(&log), number.to_be_bytes().to_vec());
        number
    }

    /// Forgets the numbers after the first `count`, when they could not be written.
    pub(super) fn forget_after(&mut self, count: usize) {
        while self.logs.len() > count
            && let Some(log) = self.logs.pop()
        {
            self.by_log.remove(&log);
        }
    }

    /// Places as bytes. Logs without a number get one, which is added to `writes`.
    pub(super) fn encode(&mut self, places: &[Place], writes: &mut sled::Batch) -> Vec<u8> {
        let mut out = Vec::with_capacity(places.len() * 6);
        for place in places {
            varint::put(&mut out, u64::from(self.number(place.log, writes)));
            varint::put(&mut out, place.seq);
            varint::put(&mut out, u64::from(place.index));
        }
        out
    }

    /// `None` when the bytes are no places of numbered logs.
    pub(super) fn decode(&self, bytes: &[u8]) -> Option<Vec<Place>> {
        self.decode_all(bytes)?.into_iter().collect()
    }

    /// As [`LogNumbers::decode`], without the places of logs that have no number.
    pub(super) fn decode_known(&self, bytes: &[u8]) -> Option<Vec<Place>> {
        Some(self.decode_all(bytes)?.into_iter().flatten().collect())
    }

    /// `None` in the place of one whose log has no number.
    fn decode_all(&self, bytes: &[u8]) -> Option<Vec<Option<Place>>> {
        let mut cursor = Cursor::new(bytes);
        let mut places = Vec::new();
        while !cursor.is_at_end() {
            let number = usize::try_from(cursor.varint()?).ok()?;
            let seq = cursor.varint()?;
            let index = u32::try_from(cursor.varint()?).ok()?;
            let log = self.logs.get(number).copied();
            places.push(log.map(|log| Place { log, seq, index }));
        }
        Some(places)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn subjects_sort_as_their_keys(a: Vec<u8>, b: Vec<u8>, n: u64, m: u64) {
            let by_key = posting(&a, n).cmp(&posting(&b, m));
            prop_assert_eq!(by_key, a.cmp(&b).then(n.cmp(&m)));
            prop_assert_eq!(subject_of(&posting(&a, n)), Some(a));
        }

        #[test]
        fn a_subject_ends_before_the_next_begins(a: Vec<u8>, tail: Vec<u8>, n: u64) {
            let longer = [a.as_slice(), &[0], &tail].concat();
            prop_assert!(posting(&a, n) < subject_end(&a));
            prop_assert!(subject_end(&a) <= subject_start(&longer));
            prop_assert!(posting(&longer, n).starts_with(&subjects(&a)));
        }

        #[test]
        fn any_bytes_decode_or_not(bytes: Vec<u8>) {
            let _ = LogNumbers::default().decode(&bytes);
            let _ = subject_of(&bytes);
            let _ = log_of(&bytes);
        }
    }
}
