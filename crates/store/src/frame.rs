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
//! Why it has:
//!
//! - **A salt.** Entries hold bytes that peers chose. Without a number that peers cannot know, one could hide a well-formed
//!   batch inside an entry, and the search for the next batch after damage would take it for ours. The salt never leaves
//!   the home.
//! - **A CRC of the head.** The length is checked before it is followed, so the search after damage costs one pass over the
//!   bytes, whatever they are.
//! - **A CRC of each record.** One entry can be read back with one small read, without its batch.
//!
//! An empty payload is a **seal**: the last batch of a segment that another one follows. A segment that is followed by another
//! one and has no seal has lost its end.

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
    let mut payload = Vec::new();
    varint::put(&mut payload, table.len() as u64);
    for log in &table {
        payload.extend(log.device.0);
        varint::put(&mut payload, log.incarnation);
    }
    let mut starts = Vec::with_capacity(records.len());
    for (record, number) in records.iter().zip(numbers) {
        starts.push(HEAD_LEN + payload.len());
        put_record(&mut payload, record, number);
    }
    let len = u32::try_from(payload.len())
        .ok()
        .filter(|_| payload.len() <= MAX_PAYLOAD)?;
    let bytes = batch(len, &payload, salt);
    Some(Encoded { bytes, starts })
}

/// The batch that ends a segment.
pub(crate) fn seal(salt: u64) -> Vec<u8> {
    batch(0, &[], salt)
}

/// Logs in the order of their first record, and for each record the number of its log.
fn log_table(records: &[Record<'_>]) -> (Vec<LogId>, Vec<u64>) {
    let mut table = Vec::new();
    let mut known: BTreeMap<LogId, u64> = BTreeMap::new();
    let number = |record: &Record<'_>| {
        *known.entry(record.log).or_insert_with(|| {
            table.push(record.log);
            table.len() as u64 - 1
        })
    };
    let numbers = records.iter().map(number).collect();
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

/// A batch around its payload, whose length is `len`.
fn batch(len: u32, payload: &[u8], salt: u64) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(HEAD_LEN + payload.len() + TAIL_LEN);
    bytes.extend(MAGIC);
    bytes.extend(len.to_le_bytes());
    bytes.extend(salt.to_le_bytes());
    let crc = crc32fast::hash(&bytes);
    bytes.extend(crc.to_le_bytes());
    bytes.extend(payload);
    let crc = crc32fast::hash(&bytes);
    bytes.extend(crc.to_le_bytes());
    bytes
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

/// A batch whose head and tail are good.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct WholeBatch<'a> {
    /// Head, payload and tail.
    pub(crate) bytes: &'a [u8],
    pub(crate) payload: &'a [u8],
}

impl WholeBatch<'_> {
    /// A batch of nothing ends a segment.
    pub(crate) fn is_seal(&self) -> bool {
        self.payload.is_empty()
    }
}

/// The batch at the front of `bytes`, and the bytes after it.
pub(crate) fn read_batch(bytes: &[u8], salt: u64) -> Option<(WholeBatch<'_>, &[u8])> {
    let head = Head::read(bytes).filter(|head| head.salt == salt)?;
    let (bytes, rest) = bytes.split_at_checked(head.batch_len())?;
    let (body, tail) = bytes.split_last_chunk::<TAIL_LEN>()?;
    let payload = body.get(HEAD_LEN..)?;
    let good = u32::from_le_bytes(*tail) == crc32fast::hash(body);
    good.then_some((WholeBatch { bytes, payload }, rest))
}

/// The records of a payload, each with its offset there. Stops at the first that cannot be read.
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
        let failed = table.is_none();
        // Without a table no record can be read, and `is_whole` says so.
        let table = table.unwrap_or_default();
        Self { cursor, table, failed }
    }

    /// After the last record: whether every byte belonged to one.
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

    /// Does not check the record's own CRC: the batch's has just been checked.
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

/// What is at the place where a record should be.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Single<'a> {
    /// The record that was asked for; its bytes.
    Good(&'a [u8]),
    /// The record has this many bytes, and fewer were given.
    NeedsBytes(usize),
    /// Something else.
    Bad,
}

/// Longest head of a record: tag, three varints, CRC.
pub(crate) const RECORD_HEAD_MAX: usize = 1 + 3 * 10 + 4;

/// Reads one record without its batch. The caller knows what it must be.
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
