//! The journal: every record of every log, in the order of arrival, in segment files.
//!
//! Opening reads all segments and checks each batch. What is whole is handed to the visitor; what is not is
//! set aside as evidence, named as [`Damage`], and stepped over. A later open finds the journal clean.
//!
//! Invariants:
//! - What [`Journal::append`] acknowledged is on disk, or the disk lost it: then it is named or is the tail.
//! - Per log the entries handed out are 1, 2, 3, … without a gap. Entries after a gap stay on disk unused,
//!   until a peer sends the missing ones again and all are appended anew.
//! - A batch is there whole or not at all.
//!
//! Deliberately not here: compaction, deletion, an order other than arrival. Byte layout: `segment.rs` for
//! files, `frame.rs` for batches and records.

use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use gladhand_facts::{LogId, VersionVector};

use crate::damage::Damage;
use crate::disk::{Disk, DiskFile, RealDisk};
use crate::heads::Heads;
use crate::opening;
use crate::record::{Position, Record};
use crate::segment::{self, HEADER_LEN, Header};

/// How the journal behaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Options {
    /// A segment that would grow beyond this is finished and the next one begun.
    pub segment_bytes: u32,
    /// Nothing is written that would leave less than this free on the disk.
    pub floor_bytes: u64,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            segment_bytes: 16 << 20,
            floor_bytes: 16 << 20,
        }
    }
}

/// Why a journal could not be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// Written by a later version of this program.
    #[error("{file} has layout {found}; this program knows layouts up to {known}: use a newer one")]
    TooNew {
        /// The segment.
        file: PathBuf,
        /// Its layout.
        found: u32,
        /// The newest that is known here.
        known: u32,
    },
    /// The disk refused.
    #[error("cannot read the journal at {file}: {source}")]
    Io {
        /// What was touched.
        file: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// Damage was found, and the repair could not be written. Nothing was changed.
    #[error("{file} is damaged and cannot be repaired now: {source}")]
    Repair {
        /// The segment.
        file: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

/// What is known of one segment file.
#[derive(Debug, Clone, Copy)]
pub(crate) struct SegmentInfo {
    pub(crate) header: Header,
    /// Durable length.
    pub(crate) len: u32,
    pub(crate) sealed: bool,
}

/// What must be done on disk before the next write.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Pending {
    /// Cut a segment back to its durable length. With evidence of what is cut, if it was found at open.
    Cut { number: u32, len: u32, keep_evidence: bool },
    /// Remove a segment that holds nothing durable.
    Remove { number: u32, keep_evidence: bool },
}

/// The journal of one home. One process has it open at a time: the home's lock sees to that.
#[derive(Debug)]
pub struct Journal {
    pub(crate) disk: Arc<dyn Disk>,
    pub(crate) dir: PathBuf,
    pub(crate) evidence_dir: PathBuf,
    pub(crate) options: Options,
    pub(crate) heads: Heads,
    pub(crate) segments: Vec<SegmentInfo>,
    pub(crate) end: Position,
    pub(crate) pending: Vec<Pending>,
    files: Mutex<BTreeMap<u32, Arc<dyn DiskFile>>>,
}

/// A laptop has at most a few thousand open files for everything.
const OPEN_FILES_MAX: usize = 64;

impl Journal {
    /// Opens the journal in `dir` on the machine's disk, or begins one there.
    ///
    /// `visit` is called once for each good record in the order of arrival, with the end of its batch.
    pub fn open(
        dir: &Path,
        evidence_dir: &Path,
        visit: &mut dyn FnMut(&Record<'_>, Position),
    ) -> Result<(Self, Vec<Damage>), OpenError> {
        Self::open_on(Arc::new(RealDisk), dir, evidence_dir, Options::default(), visit)
    }

    /// The same on any disk and with any options.
    pub fn open_on(
        disk: Arc<dyn Disk>,
        dir: &Path,
        evidence_dir: &Path,
        options: Options,
        visit: &mut dyn FnMut(&Record<'_>, Position),
    ) -> Result<(Self, Vec<Damage>), OpenError> {
        let journal = Self::nothing_yet(disk, dir, evidence_dir, options);
        opening::open(journal, visit)
    }

    pub(crate) fn nothing_yet(disk: Arc<dyn Disk>, dir: &Path, evidence_dir: &Path, options: Options) -> Self {
        Self {
            disk,
            dir: dir.to_path_buf(),
            evidence_dir: evidence_dir.to_path_buf(),
            options,
            heads: Heads::default(),
            segments: Vec::new(),
            end: Position::START,
            pending: Vec::new(),
            files: Mutex::default(),
        }
    }

    /// The last entry of a log, or 0.
    pub fn head_seq(&self, log: &LogId) -> u64 {
        self.heads.head(log)
    }

    /// The logs that have entries, in the order of their ids.
    pub fn logs(&self) -> impl Iterator<Item = LogId> + '_ {
        self.heads.logs()
    }

    /// The last entry of each log.
    pub fn vector(&self) -> VersionVector {
        self.heads.vector()
    }

    /// The entries of a log that have a checkpoint, rising.
    pub fn checkpoints(&self, log: &LogId) -> Vec<u64> {
        self.heads.checkpoints(log).collect()
    }

    /// The newest entry of a log that has a checkpoint.
    pub fn newest_checkpoint(&self, log: &LogId) -> Option<u64> {
        self.heads.checkpoints(log).next_back()
    }

    /// The first entry at or after `seq` that has a checkpoint.
    pub fn checkpoint_from(&self, log: &LogId, seq: u64) -> Option<u64> {
        self.heads.checkpoint_from(log, seq)
    }

    /// The end of the last batch.
    pub fn end(&self) -> Position {
        self.end
    }

    /// How many bytes the segments take.
    pub fn disk_bytes(&self) -> u64 {
        self.segments.iter().map(|segment| u64::from(segment.len)).sum()
    }

    /// How many bytes are still free on the disk.
    pub fn free_bytes(&self) -> io::Result<u64> {
        self.disk.free_bytes(&self.dir)
    }

    /// Changes how much must stay free.
    pub fn set_floor_bytes(&mut self, floor_bytes: u64) {
        self.options.floor_bytes = floor_bytes;
    }

    /// A number that tells whether everything before `position` is what it was: it changes with a repair,
    /// and another journal has another. `None` when no batch ends there.
    ///
    /// Stored with whatever is derived; a different number on the next start means: derive it anew.
    pub fn fingerprint(&self, position: Position) -> Option<u64> {
        let mut hasher = blake3::Hasher::new();
        for info in self
            .segments
            .iter()
            .filter(|info| info.header.number <= position.segment)
        {
            let Header {
                number, edition, salt, ..
            } = info.header;
            hasher.update(&number.to_le_bytes());
            hasher.update(&edition.to_le_bytes());
            hasher.update(&salt.to_le_bytes());
            let until = if number == position.segment {
                position.offset
            } else {
                info.len
            };
            hasher.update(&until.to_le_bytes());
        }
        hasher.update(&self.crc_before(position)?);
        let [a, b, c, d, e, f, g, h, ..] = *hasher.finalize().as_bytes();
        Some(u64::from_le_bytes([a, b, c, d, e, f, g, h]))
    }

    /// The CRC that ends the batch before `position`.
    fn crc_before(&self, position: Position) -> Option<[u8; 4]> {
        if position == Position::START {
            return Some([0; 4]);
        }
        let info = self
            .segments
            .iter()
            .find(|info| info.header.number == position.segment)?;
        let at = position.offset.checked_sub(4).filter(|at| *at as usize >= HEADER_LEN)?;
        if position.offset > info.len {
            return None;
        }
        let mut crc = [0; 4];
        let file = self.file(position.segment).ok()?;
        (file.read_at(u64::from(at), &mut crc).ok()? == crc.len()).then_some(crc)
    }

    pub(crate) fn segment_path(&self, number: u32) -> PathBuf {
        self.dir.join(segment::file_name(number))
    }

    /// A handle to a segment, kept for the next time.
    pub(crate) fn file(&self, number: u32) -> io::Result<Arc<dyn DiskFile>> {
        let mut files = self.files.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(file) = files.get(&number) {
            return Ok(Arc::clone(file));
        }
        let file: Arc<dyn DiskFile> = Arc::from(self.disk.open(&self.segment_path(number))?);
        if files.len() >= OPEN_FILES_MAX {
            files.clear();
        }
        files.insert(number, Arc::clone(&file));
        Ok(file)
    }

    /// Drops the handle to a segment that was removed or replaced.
    pub(crate) fn forget_file(&self, number: u32) {
        self.files
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .remove(&number);
    }
}
