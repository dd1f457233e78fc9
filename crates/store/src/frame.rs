//! The bytes of one batch. A batch is there whole or not at all.
//!
//! ```text
//! batch   = head, payload, tail
//! head    = magic  B7 47 68 1E          4
//!           length of the payload       4   little-endian, as all fixed numbers here
//!           salt of the journal         8
//!           CRC32 of the 16 bytes above 4
//! payload = count of logs               varint
//!           per log: device 32, incarnation varint
//!           records until the end
//! tail    = CRC32 of head and payload   4
//!
//! record  = tag                         1   1 entry, 2 checkpoint, others are carried as they are
//!           which log of the table      varint, from 0
//!           seq                         varint
//!           length of the bytes         varint
//!           CRC32 of the record         4   over device, incarnation (8), tag, seq (8), bytes
//!           bytes
//! ```
//!
//! Three things that look like too much, and are not:
//!
//! - **The salt.** Entries hold bytes that peers chose. Without a number that they cannot know, a peer could
//!   hide a whole well-formed batch inside an entry, and the search for the next batch after damage would
//!   take it for ours. The salt never leaves the home.
//! - **The CRC of the head.** The length is known to be true before it is followed, so the search after
//!   damage costs one pass over the bytes, whatever they are.
//! - **The CRC of each record.** One entry is read back by one small read, without its batch around it.
//!
//! A payload of no bytes is a **seal**: the last thing in a segment that another one follows. A segment that
//! is followed and has no seal has lost its end.

use std::collections::BTreeMap;

use crc32fast::Hasher;
use gladhand_facts::{DeviceKey, LogId, varint};

use crate::record::{Record, RecordKind};
use crate::wire::Cursor;

pub(crate) const MAGIC: [u8; 4] = [0xb7, b'G', b'h', 0x1e];
pub(crate) const HEAD_LEN: usize = 20;
pub(crate) const TAIL_LEN: usize = 4;
/// A batch is held in memory whole; the exchange and the inbox cut theirs far smaller.
pub(crate) const MAX_PAYLOAD: usize = 16 << 20;

/// A batch ready to be written, and where in it each record begins.
pub(crate) struct Encoded {
    pub(crate) bytes: Vec<u8>,
    pub(crate) starts: Vec<usize>,
}

/// Lays out `records` as one batch. `None` when they are too many for one.
pub(crate) fn encode(records: &[Record<'_>], salt: u64) -> Option<Encoded> {
    let (table, numbers) = log_table(records);
    let mut bytes = vec![0; HEAD_LEN];
    varint::put(&mut bytes, table.len() as u64);
    for log in &table {
        bytes.extend(log.device.0);
        varint::put(&mut bytes, log.incarnation);
    }
    let mut starts = Vec::with_capacity(records.len());
    for record in records {
        starts.push(bytes.len());
        put_record(
            &mut bytes,
            record,
            numbers.get(&record.log).copied().unwrap_or_default(),
        );
    }
    close(bytes, salt).map(|bytes| Encoded { bytes, starts })
}

/// The batch that ends a segment.
pub(crate) fn seal(salt: u64) -> Vec<u8> {
    close(vec![0; HEAD_LEN], salt).unwrap_or_default()
}

/// Logs in the order of their first record, and the number of each.
fn log_table(records: &[Record<'_>]) -> (Vec<LogId>, BTreeMap<LogId, u64>) {
    let mut table = Vec::new();
    let mut numbers = BTreeMap::new();
    for record in records {
        numbers.entry(record.log).or_insert_with(|| {
            table.push(record.log);
            table.len() as u64 - 1
        });
    }
    (table, numbers)
}

fn put_record(out: &mut Vec<u8>, record: &Record<'_>, log_number: u64) {
    out.push(record.kind.tag());
    varint::put(out, log_number);
    varint::put(out, record.seq);
    varint::put(out, record.bytes.len() as u64);
    out.extend(record_crc(record).to_le_bytes());
    out.extend(record.bytes);
}

fn record_crc(record: &Record<'_>) -> u32 {
    let mut crc = Hasher::new();
    crc.update(&record.log.device.0);
    crc.update(&record.log.incarnation.to_le_bytes());
    crc.update(&[record.kind.tag()]);
    crc.update(&record.seq.to_le_bytes());
    crc.update(record.bytes);
    crc.finalize()
}

/// Fills in the head that was left free, and adds the tail.
fn close(mut bytes: Vec<u8>, salt: u64) -> Option<Vec<u8>> {
    let payload_len = bytes.len().checked_sub(HEAD_LEN).filter(|n| *n <= MAX_PAYLOAD)?;
    let head = head_bytes(u32::try_from(payload_len).ok()?, salt);
    bytes.get_mut(..HEAD_LEN)?.copy_from_slice(&head);
    let tail = crc32fast::hash(&bytes).to_le_bytes();
    bytes.extend(tail);
    Some(bytes)
}

fn head_bytes(payload_len: u32, salt: u64) -> [u8; HEAD_LEN] {
    let mut head = [0; HEAD_LEN];
    let fields = MAGIC
        .into_iter()
        .chain(payload_len.to_le_bytes())
        .chain(salt.to_le_bytes());
    head.iter_mut().zip(fields).for_each(|(slot, byte)| *slot = byte);
    let crc = head
        .split_last_chunk::<4>()
        .map_or(0, |(fields, _)| crc32fast::hash(fields));
    head.iter_mut()
        .skip(HEAD_LEN - 4)
        .zip(crc.to_le_bytes())
        .for_each(|(slot, byte)| *slot = byte);
    head
}

/// What the head of a batch says, when its own CRC holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Head {
    pub(crate) payload_len: usize,
    pub(crate) salt: u64,
}

impl Head {
    pub(crate) fn read(bytes: &[u8]) -> Option<Self> {
        let fields = bytes.get(..HEAD_LEN - 4)?;
        let mut cursor = Cursor::new(bytes);
        let magic = cursor.array::<4>()?;
        let payload_len = usize::try_from(cursor.u32()?).ok()?;
        let salt = cursor.u64()?;
        let good = magic == MAGIC && payload_len <= MAX_PAYLOAD && cursor.u32()? == crc32fast::hash(fields);
        good.then_some(Self { payload_len, salt })
    }

    /// Length of the whole batch.
    pub(crate) fn batch_len(&self) -> usize {
        HEAD_LEN + self.payload_len + TAIL_LEN
    }
}

/// The payload of the batch that `bytes` begins with, when everything about it holds.
pub(crate) fn read_batch(bytes: &[u8], salt: u64) -> Option<&[u8]> {
    let head = Head::read(bytes).filter(|head| head.salt == salt)?;
    let (body, tail) = bytes.get(..head.batch_len())?.split_last_chunk::<TAIL_LEN>()?;
    let payload = body.get(HEAD_LEN..)?;
    (u32::from_le_bytes(*tail) == crc32fast::hash(body)).then_some(payload)
}

/// The records of a payload with the offset of each in it. Stops at the first that makes no sense.
pub(crate) struct Records<'a> {
    cursor: Cursor<'a>,
    table: Vec<LogId>,
    failed: bool,
}

impl<'a> Records<'a> {
    pub(crate) fn of(payload: &'a [u8]) -> Self {
        let mut cursor = Cursor::new(payload);
        let table = if payload.is_empty() {
            Some(Vec::new())
        } else {
            read_table(&mut cursor)
        };
        Self {
            cursor,
            failed: table.is_none(),
            table: table.unwrap_or_default(),
        }
    }

    /// After the last record: whether every byte made sense.
    pub(crate) fn is_whole(&self) -> bool {
        !self.failed && self.cursor.is_at_end()
    }

    fn read(&mut self) -> Option<(usize, Record<'a>, bool)> {
        let start = self.cursor.taken();
        let (number, raw) = read_raw(&mut self.cursor)?;
        let log = *self.table.get(usize::try_from(number).ok()?)?;
        let record = raw.of(log);
        Some((start, record, record_crc(&record) == raw.crc))
    }

    /// The next record, and whether its own CRC holds.
    pub(crate) fn next_checked(&mut self) -> Option<(usize, Record<'a>, bool)> {
        if self.failed || self.cursor.is_at_end() {
            return None;
        }
        let next = self.read();
        self.failed = next.is_none();
        next
    }
}

impl<'a> Iterator for Records<'a> {
    type Item = (usize, Record<'a>);

    /// Without the record's own CRC: the batch's has just been checked.
    fn next(&mut self) -> Option<Self::Item> {
        if self.failed || self.cursor.is_at_end() {
            return None;
        }
        let start = self.cursor.taken();
        let next = read_raw(&mut self.cursor).and_then(|(number, raw)| {
            let log = *self.table.get(usize::try_from(number).ok()?)?;
            Some((start, raw.of(log)))
        });
        self.failed = next.is_none();
        next
    }
}

fn read_table(cursor: &mut Cursor<'_>) -> Option<Vec<LogId>> {
    let count = cursor.varint()?;
    let mut table = Vec::new();
    // Not reserved ahead: the count is only a claim.
    for _ in 0..count {
        let device = DeviceKey(cursor.array()?);
        let incarnation = cursor.varint()?;
        table.push(LogId { device, incarnation });
    }
    Some(table)
}

/// A record whose log is not known yet.
struct RawRecord<'a> {
    tag: u8,
    seq: u64,
    crc: u32,
    bytes: &'a [u8],
}

impl<'a> RawRecord<'a> {
    fn of(&self, log: LogId) -> Record<'a> {
        Record {
            kind: RecordKind::of_tag(self.tag),
            log,
            seq: self.seq,
            bytes: self.bytes,
        }
    }
}

fn read_raw<'a>(cursor: &mut Cursor<'a>) -> Option<(u64, RawRecord<'a>)> {
    let tag = cursor.u8()?;
    let number = cursor.varint()?;
    let seq = cursor.varint()?;
    let len = usize::try_from(cursor.varint()?).ok()?;
    let crc = cursor.u32()?;
    let bytes = cursor.take(len)?;
    Some((number, RawRecord { tag, seq, crc, bytes }))
}

/// What stands where a record was said to be.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Single<'a> {
    /// The record that was asked for; its bytes.
    Good(&'a [u8]),
    /// It needs this many bytes from its start on, and fewer were given.
    NeedsBytes(usize),
    /// Something else.
    Bad,
}

/// Longest head of a record: tag, three varints, CRC.
pub(crate) const RECORD_HEAD_MAX: usize = 1 + 3 * 10 + 4;

/// Reads one record by itself, awareness from elsewhere what it must be.
pub(crate) fn read_single<'a>(bytes: &'a [u8], kind: RecordKind, log: LogId, seq: u64) -> Single<'a> {
    match single_len(bytes) {
        Some(len) if len > HEAD_LEN + MAX_PAYLOAD => return Single::Bad,
        Some(len) if len > bytes.len() => return Single::NeedsBytes(len),
        Some(_) => {}
        None if bytes.len() < RECORD_HEAD_MAX => return Single::NeedsBytes(RECORD_HEAD_MAX),
        None => return Single::Bad,
    }
    let Some((_, raw)) = read_raw(&mut Cursor::new(bytes)) else {
        return Single::Bad;
    };
    let record = raw.of(log);
    let good = record.kind == kind && record.seq == seq && record_crc(&record) == raw.crc;
    if good { Single::Good(raw.bytes) } else { Single::Bad }
}

fn single_len(bytes: &[u8]) -> Option<usize> {
    let mut cursor = Cursor::new(bytes);
    cursor.u8()?;
    cursor.varint()?;
    cursor.varint()?;
    let len = usize::try_from(cursor.varint()?).ok()?;
    cursor.u32()?;
    cursor.taken().checked_add(len)
}

#[cfg(test)]
#[path = "frame_tests.rs"]
mod tests;
