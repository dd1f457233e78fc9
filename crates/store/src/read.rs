//! Reading back: one entry, a run of a log, or everything in the order of arrival.
//!
//! A single record is checked by its own CRC and by being the one that was asked for; a batch by its CRC.

use std::io;
use std::path::PathBuf;

use gladhand_facts::LogId;

use crate::disk;
use crate::frame::{self, HEAD_LEN, Head, Records, Single};
use crate::journal::{Journal, SegmentInfo};
use crate::record::{Loc, Position, Record, RecordKind};
use crate::scan;
use crate::segment::HEADER_LEN;

/// Why something that was stored could not be read.
#[derive(Debug, thiserror::Error)]
pub enum ReadError {
    /// The bytes there are not those that were written. Open the journal again to have them set aside.
    #[error("{file} is damaged at offset {offset}")]
    Damaged {
        /// The segment.
        file: PathBuf,
        /// Where in it.
        offset: u64,
    },
    /// The disk refused.
    #[error("cannot read {file}: {source}")]
    Io {
        /// The segment.
        file: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

/// What one small read brings in; most entries fit.
const SMALL_READ: usize = 1 << 10;
/// Bounds of the read-ahead of [`Entries`].
const AHEAD_MIN: usize = 4 << 10;
const AHEAD_MAX: usize = 1 << 20;
/// Read-ahead of [`Scan`], which never leaps.
const SCAN_AHEAD: usize = 256 << 10;

impl Journal {
    /// One entry. `None` when the log does not reach that far.
    pub fn read_entry(&self, log: &LogId, seq: u64) -> Result<Option<Vec<u8>>, ReadError> {
        self.read_at(self.offsets.entry(log, seq), RecordKind::Entry, log, seq)
    }

    /// The checkpoint of one entry. `None` when it has none.
    pub fn read_checkpoint(&self, log: &LogId, seq: u64) -> Result<Option<Vec<u8>>, ReadError> {
        self.read_at(self.offsets.checkpoint(log, seq), RecordKind::Checkpoint, log, seq)
    }

    pub(crate) fn read_at(
        &self,
        loc: Option<Loc>,
        kind: RecordKind,
        log: &LogId,
        seq: u64,
    ) -> Result<Option<Vec<u8>>, ReadError> {
        let Some(loc) = loc else { return Ok(None) };
        let mut len = SMALL_READ;
        loop {
            let bytes = self.bytes_at(loc, len)?;
            match frame::read_single(&bytes, kind, *log, seq) {
                Single::Good(bytes) => return Ok(Some(bytes.to_vec())),
                Single::NeedsBytes(more) if more > len => len = more,
                Single::NeedsBytes(_) | Single::Bad => return Err(self.damaged(loc)),
            }
        }
    }

    /// Up to `len` bytes from where a record begins.
    fn bytes_at(&self, loc: Loc, len: usize) -> Result<Vec<u8>, ReadError> {
        let read = self
            .file(loc.segment())
            .and_then(|f| disk::read_up_to(f.as_ref(), u64::from(loc.offset()), len));
        read.map_err(|source| ReadError::Io {
            file: self.segment_path(loc.segment()),
            source,
        })
    }

    pub(crate) fn damaged(&self, loc: Loc) -> ReadError {
        ReadError::Damaged {
            file: self.segment_path(loc.segment()),
            offset: u64::from(loc.offset()),
        }
    }

    /// The entries `from` to `to` of a log, both included, as far as they are here. Reads ahead.
    pub fn entries(&self, log: &LogId, from: u64, to: u64) -> Entries<'_> {
        let window = Window::empty();
        Entries {
            journal: self,
            log: *log,
            next: from.max(1),
            last: to,
            window,
            ahead: AHEAD_MIN,
        }
    }

    /// Everything after `position` in the order of arrival, batch by batch.
    pub fn scan_from(&self, position: Position) -> Scan<'_> {
        let after = self
            .segments
            .partition_point(|info| info.header.number < position.segment);
        let starts_inside = self
            .segments
            .get(after)
            .is_some_and(|info| info.header.number == position.segment);
        let at = if starts_inside {
            (position.offset as usize).max(HEADER_LEN)
        } else {
            HEADER_LEN
        };
        Scan {
            journal: self,
            segment: after,
            at,
            window: Window::empty(),
        }
    }
}

/// A stretch of a segment in memory.
#[derive(Debug)]
struct Window {
    segment: u32,
    start: usize,
    bytes: Vec<u8>,
}

impl Window {
    fn empty() -> Self {
        Self {
            segment: 0,
            start: 0,
            bytes: Vec::new(),
        }
    }

    fn from(&self, loc: Loc) -> Option<&[u8]> {
        let skip = (loc.offset() as usize).checked_sub(self.start)?;
        self.bytes.get(skip..).filter(|_| loc.segment() == self.segment)
    }

    /// Whether `loc` is less than the window's length beyond its end.
    fn is_near(&self, loc: Loc) -> bool {
        let reach = self.start + 2 * self.bytes.len();
        loc.segment() == self.segment && (self.start..=reach).contains(&(loc.offset() as usize))
    }
}

/// Entries of one log, in order. After an error it is at its end.
#[derive(Debug)]
pub struct Entries<'j> {
    journal: &'j Journal,
    log: LogId,
    next: u64,
    last: u64,
    window: Window,
    ahead: usize,
}

impl Entries<'_> {
    fn read(&mut self, loc: Loc) -> Result<Vec<u8>, ReadError> {
        // Three attempts: with what is in memory, after a first read, and after a read of the right length.
        for _ in 0..3 {
            // Nothing in memory yet is too few bytes.
            let bytes = self.window.from(loc).unwrap_or_default();
            match frame::read_single(bytes, RecordKind::Entry, self.log, self.next) {
                Single::Good(bytes) => return Ok(bytes.to_vec()),
                Single::NeedsBytes(len) => self.fill(loc, len)?,
                Single::Bad => break,
            }
        }
        Err(self.journal.damaged(loc))
    }

    /// Reads ahead from `loc`: further each time the last window was used to its end, less after a leap.
    fn fill(&mut self, loc: Loc, at_least: usize) -> Result<(), ReadError> {
        let near = self.window.is_near(loc);
        self.ahead = if near { self.ahead * 2 } else { self.ahead / 4 }.clamp(AHEAD_MIN, AHEAD_MAX);
        let bytes = self.journal.bytes_at(loc, self.ahead.max(at_least))?;
        self.window = Window {
            segment: loc.segment(),
            start: loc.offset() as usize,
            bytes,
        };
        Ok(())
    }
}

impl Iterator for Entries<'_> {
    type Item = Result<(u64, Vec<u8>), ReadError>;

    fn next(&mut self) -> Option<Self::Item> {
        let seq = self.next;
        let loc = self
            .journal
            .offsets
            .entry(&self.log, seq)
            .filter(|_| seq <= self.last)?;
        let read = self.read(loc);
        self.next = if read.is_ok() { seq + 1 } else { u64::MAX };
        Some(read.map(|bytes| (seq, bytes)))
    }
}

/// One batch as it was appended.
#[derive(Debug)]
pub struct Batch {
    end: Position,
    payload: Vec<u8>,
    /// Offsets of records that do not count.
    unused: Vec<usize>,
}

impl Batch {
    /// The position after it.
    pub fn end(&self) -> Position {
        self.end
    }

    /// Its records in order.
    pub fn records(&self) -> impl Iterator<Item = Record<'_>> {
        let records = Records::of(&self.payload);
        records
            .filter(|(at, _)| self.unused.binary_search(at).is_err())
            .map(|(_, record)| record)
    }
}

/// Batches in the order of arrival. After an error it is at its end.
#[derive(Debug)]
pub struct Scan<'j> {
    journal: &'j Journal,
    /// Index of the segment that `at` is in.
    segment: usize,
    at: usize,
    window: Window,
}

impl Scan<'_> {
    /// The next batch, or `None` at the end of the segment.
    fn next_in(&mut self, info: SegmentInfo) -> Result<Option<Batch>, ReadError> {
        let left = (info.len as usize).saturating_sub(self.at);
        if left == 0 {
            return Ok(None);
        }
        let loc = Loc::new(info.header.number, self.at as u32);
        self.fill(loc, HEAD_LEN, left)?;
        let head = self
            .window
            .from(loc)
            .and_then(Head::read)
            .ok_or_else(|| self.journal.damaged(loc))?;
        self.fill(loc, head.batch_len(), left)?;
        let bytes = self.window.from(loc);
        let whole = bytes.and_then(|bytes| scan::batch_at(bytes, info.header.salt));
        let (whole, _) = whole.ok_or_else(|| self.journal.damaged(loc))?;
        let (len, payload) = (whole.bytes.len(), whole.payload.to_vec());
        let batch = self.batch(loc, len, payload);
        self.at += len;
        Ok(Some(batch))
    }

    /// Loads `needed` bytes from `loc`, or as many as the segment has, unless they are in memory.
    fn fill(&mut self, loc: Loc, needed: usize, left: usize) -> Result<(), ReadError> {
        if self.window.from(loc).is_none_or(|bytes| bytes.len() < needed.min(left)) {
            let bytes = self.journal.bytes_at(loc, needed.max(SCAN_AHEAD).min(left))?;
            self.window = Window {
                segment: loc.segment(),
                start: loc.offset() as usize,
                bytes,
            };
        }
        Ok(())
    }

    fn batch(&self, loc: Loc, len: usize, payload: Vec<u8>) -> Batch {
        let first = loc.offset() + HEAD_LEN as u32;
        let counts = |at: usize, record: &Record<'_>| {
            self.journal
                .offsets
                .holds(record, Loc::new(loc.segment(), first + at as u32))
        };
        let unused = Records::of(&payload)
            .filter(|(at, record)| !counts(*at, record))
            .map(|(at, _)| at)
            .collect();
        let end = Position {
            segment: loc.segment(),
            offset: loc.offset() + len as u32,
        };
        Batch { end, payload, unused }
    }
}

impl Iterator for Scan<'_> {
    type Item = Result<Batch, ReadError>;

    fn next(&mut self) -> Option<Self::Item> {
        while let Some(info) = self.journal.segments.get(self.segment).copied() {
            match self.next_in(info) {
                // A seal ends its segment; callers do not see it.
                Ok(Some(batch)) if batch.payload.is_empty() => {}
                Ok(Some(batch)) => return Some(Ok(batch)),
                Ok(None) => (self.segment, self.at) = (self.segment + 1, HEADER_LEN),
                Err(error) => {
                    self.segment = usize::MAX;
                    return Some(Err(error));
                }
            }
        }
        None
    }
}
