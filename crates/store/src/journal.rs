//! The journal: every record of every log, in the order of arrival, in segment files.
//!
//! Opening (`opening.rs`) reads all segments and checks each batch. Single wrong bits are put right (`mend.rs`). Whole batches are
//! passed to the visitor; what is damaged is kept as evidence, named as [`crate::Damage`], and stepped over. A later open finds the journal clean.
//!
//! Invariants:
//! - What [`Journal::append`] acknowledged is on disk, unless the disk lost it: then it is named as damage or was the tail.
//! - Per log the entries are read as 1, 2, 3, … without a gap. Entries after a gap wait on disk (`waiting.rs`) until the missing
//!   ones are there again.
//! - A batch is there whole or not at all.
//!
//! Deliberately not here: compaction, deletion, any order but arrival. Byte layout: `segment.rs` for files, `frame.rs` for
//! batches and records.

use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use gladhand_facts::{LogId, VersionVector};

use crate::disk::{Disk, DiskFile};
use crate::offsets::Offsets;
use crate::record::Position;
use crate::segment::{self, HEADER_LEN, Header};

/// How the journal behaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Options {
    /// A segment that would grow beyond this is sealed, and the next one is begun.
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
    /// Cut a segment back to its durable length, and first keep what is cut as evidence, if it was found at open.
    Cut { number: u32, len: u32, keep_evidence: bool },
    /// Remove a segment that holds nothing durable.
    Remove { number: u32, keep_evidence: bool },
}

/// The journal of one home. The home's lock keeps other processes out.
#[derive(Debug)]
pub struct Journal {
    pub(crate) disk: Arc<dyn Disk>,
    pub(crate) dir: PathBuf,
    pub(crate) evidence_dir: PathBuf,
    pub(crate) options: Options,
    pub(crate) offsets: Offsets,
    pub(crate) segments: Vec<SegmentInfo>,
    pub(crate) end: Position,
    pub(crate) pending: Vec<Pending>,
    files: Mutex<BTreeMap<u32, Arc<dyn DiskFile>>>,
}

/// A laptop has at most a few thousand open files for everything.
const OPEN_FILES_MAX: usize = 64;

impl Journal {
    /// A journal of which nothing has been read yet.
    pub(crate) fn nothing_yet(disk: Arc<dyn Disk>, dir: &Path, evidence_dir: &Path, options: Options) -> Self {
        Self {
            disk,
            dir: dir.to_path_buf(),
            evidence_dir: evidence_dir.to_path_buf(),
            options,
            offsets: Offsets::default(),
            segments: Vec::new(),
            end: Position::START,
            pending: Vec::new(),
            files: Mutex::default(),
        }
    }

    /// The journal as it is now, to read from it while this one grows. It shares what is known of the logs and the open files.
    ///
    /// What is in it was durable, and later writes only add bytes after it, so both may be used at once.
    pub fn reader(&self) -> Self {
        let files = self.files.lock().unwrap_or_else(PoisonError::into_inner).clone();
        Self {
            disk: Arc::clone(&self.disk),
            dir: self.dir.clone(),
            evidence_dir: self.evidence_dir.clone(),
            options: self.options,
            offsets: self.offsets.clone(),
            segments: self.segments.clone(),
            end: self.end,
            pending: Vec::new(),
            files: Mutex::new(files),
        }
    }

    /// The last entry of a log, or 0.
    pub fn head_seq(&self, log: &LogId) -> u64 {
        self.offsets.head(log)
    }

    /// The logs that have entries, in the order of their ids.
    pub fn logs(&self) -> impl Iterator<Item = LogId> + '_ {
        self.offsets.logs()
    }

    /// The last entry of each log.
    pub fn vector(&self) -> VersionVector {
        self.offsets.vector()
    }

    /// The entries of a log that have a checkpoint, rising.
    pub fn checkpoints(&self, log: &LogId) -> Vec<u64> {
        self.offsets.checkpoints(log).collect()
    }

    /// The newest entry of a log that has a checkpoint.
    pub fn newest_checkpoint(&self, log: &LogId) -> Option<u64> {
        self.offsets.checkpoints(log).next_back()
    }

    /// The first entry at or after `seq` that has a checkpoint.
    pub fn checkpoint_from(&self, log: &LogId, seq: u64) -> Option<u64> {
        self.offsets.checkpoint_from(log, seq)
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

    /// Whether the disk takes no writes at all.
    pub fn is_read_only(&self) -> bool {
        self.disk.is_read_only(&self.dir).unwrap_or(false)
    }

    /// Changes how much must stay free.
    pub fn set_floor_bytes(&mut self, floor_bytes: u64) {
        self.options.floor_bytes = floor_bytes;
    }

    /// A number for everything before `position`: a repair changes it, and another journal has another one. `None` when no
    /// batch ends there, or the end of that batch cannot be read.
    ///
    /// It is stored with what is derived from the journal; a different number at the next start means: derive it anew.
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

    /// A handle to a segment, kept open for the next call.
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
