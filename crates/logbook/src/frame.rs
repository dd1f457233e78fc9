//! Frames: runs of entries of several logs that are let in together, compressed, without the hashes that can be recomputed.
//!
//! Bytes of a frame before compression (varints are LEB128):
//!
//! | part | bytes |
//! |---|---|
//! | runs | varint count |
//! | each run | key 32, varint incarnation, varint first seq, previous hash 32, varint entry count, varint checkpoint count |
//! | each checkpoint of the run | varint seq, signature 64 |
//! | each entry of the run | format byte, varint length, the entry's bytes after the previous hash |
//!
//! and around that: varint raw length, then one zstd frame. The raw length is checked before anything is decompressed.
//! A run has the hash before its first entry, so that a receiver can tell a fork (signed, but on another branch) from damage
//! (not signed at all).

use gladhand_facts::LogId;

use crate::checkpoint::Checkpoint;
use crate::entry::{self, EntryHash, MAX_ENTRY_BYTES};
use crate::plan::{Group, Stretch};
use crate::wire::{self, Reader, WireError};

/// The most bytes of a decompressed frame: 64 MiB.
pub const MAX_RAW_BYTES: u64 = 64 << 20;
/// The most runs in a frame.
const MAX_RUNS: u64 = 4_096;
/// The most entries in a run.
const MAX_ENTRIES: u64 = 1 << 20;
/// zstd level: higher levels gain less than a percent on frames of 256 entries, for several times the time.
const LEVEL: i32 = 9;

/// Why a frame cannot be made or read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FrameError {
    /// The bytes do not read.
    #[error("frame: {0}")]
    Wire(#[from] WireError),
    /// It does not decompress, or not to the length that it states.
    #[error("frame does not inflate: {0}")]
    Compression(String),
    /// An entry or checkpoint that the plan names is not in the store.
    #[error("entry {seq} of log {} is missing from the store", log.device.short())]
    Missing {
        /// The log.
        log: LogId,
        /// The entry.
        seq: u64,
    },
    /// Two runs of one log.
    #[error("log {} appears twice in one frame", .0.device.short())]
    Twice(LogId),
}

/// Consecutive entries of one log. Each is format byte and tail, without the previous hash.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EntryRun {
    /// The log.
    pub log: LogId,
    /// The first entry's place; at least 1.
    pub first: u64,
    /// The hash of the entry before it.
    pub previous: EntryHash,
    /// The entries.
    pub entries: Vec<(u8, Vec<u8>)>,
    /// Checkpoints within the run; the last entry has one.
    pub checkpoints: Vec<Checkpoint>,
}

impl EntryRun {
    /// The last entry's place.
    pub fn last(&self) -> u64 {
        self.first.saturating_add(self.entries.len() as u64).saturating_sub(1)
    }

    /// Puts the previous hashes back, and computes the hash of each entry.
    pub fn chained(&self) -> ChainedRun<'_> {
        let mut previous = self.previous;
        let mut entries = Vec::with_capacity(self.entries.len());
        for (format, tail) in &self.entries {
            let bytes = entry::with_previous(*format, &previous, tail);
            previous = entry::hash(&self.log, &bytes);
            entries.push((previous, bytes));
        }
        ChainedRun { run: self, entries }
    }
}

/// A run with the hash and the whole bytes of each entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChainedRun<'r> {
    run: &'r EntryRun,
    entries: Vec<(EntryHash, Vec<u8>)>,
}

impl ChainedRun<'_> {
    /// The hash at a place, of an entry of the run or of the one before it.
    pub fn hash_at(&self, seq: u64) -> Option<EntryHash> {
        let Some(index) = seq.checked_sub(self.run.first) else {
            return (seq + 1 == self.run.first).then_some(self.run.previous);
        };
        self.entries.get(usize::try_from(index).ok()?).map(|(hash, _)| *hash)
    }

    /// Whether the device signed this run's end, and all other checkpoints in the run are good too.
    pub fn is_vouched_for(&self) -> bool {
        let (log, last, checkpoints) = (self.run.log, self.run.last(), &self.run.checkpoints);
        let is_inside = |c: &Checkpoint| c.log == log && c.seq >= self.run.first;
        let is_good = |c: &Checkpoint| is_inside(c) && self.hash_at(c.seq).is_some_and(|hash| c.vouches_for(&hash));
        checkpoints.iter().any(|c| c.seq == last) && checkpoints.iter().all(is_good)
    }

    /// The entries: place, hash and bytes.
    pub fn into_entries(self) -> impl Iterator<Item = (u64, EntryHash, Vec<u8>)> {
        let entries = (self.run.first..).zip(self.entries);
        entries.map(|(seq, (hash, bytes))| (seq, hash, bytes))
    }
}

/// Runs that are let in together.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Frame {
    /// At most one per log.
    pub runs: Vec<EntryRun>,
}

/// Where the bytes of entries and checkpoints come from.
pub trait Source {
    /// The entries of a stretch, in order.
    fn entries(&self, stretch: &Stretch) -> Option<Vec<Vec<u8>>>;
    /// The signature of a checkpoint.
    fn checkpoint(&self, log: &LogId, seq: u64) -> Option<[u8; 64]>;
}

impl Frame {
    /// Gathers the entries that a plan's group names.
    ///
    /// # Errors
    /// [`FrameError::Missing`] when the source does not have one.
    pub fn gather(group: &Group, source: &impl Source) -> Result<Self, FrameError> {
        let runs = group
            .stretches
            .iter()
            .map(|stretch| gather_run(stretch, source))
            .collect::<Result<_, _>>()?;
        Ok(Self { runs })
    }

    /// How many entries are in it.
    pub fn entries(&self) -> u64 {
        self.runs.iter().map(|run| run.entries.len() as u64).sum()
    }

    /// The compressed bytes.
    ///
    /// # Errors
    /// [`FrameError::Compression`].
    pub fn encode(&self) -> Result<Vec<u8>, FrameError> {
        let raw = self.encode_raw();
        let mut out = Vec::with_capacity(raw.len() / 3);
        wire::put_number(&mut out, raw.len() as u64);
        let squeezed = zstd::bulk::compress(&raw, LEVEL).map_err(|e| FrameError::Compression(e.to_string()))?;
        out.extend_from_slice(&squeezed);
        Ok(out)
    }

    fn encode_raw(&self) -> Vec<u8> {
        let mut out = Vec::new();
        wire::put_number(&mut out, self.runs.len() as u64);
        for run in &self.runs {
            wire::put_log(&mut out, &run.log);
            wire::put_number(&mut out, run.first);
            out.extend_from_slice(&run.previous.0);
            wire::put_number(&mut out, run.entries.len() as u64);
            wire::put_number(&mut out, run.checkpoints.len() as u64);
            for checkpoint in &run.checkpoints {
                wire::put_number(&mut out, checkpoint.seq);
                out.extend_from_slice(&checkpoint.signature);
            }
            for (format, tail) in &run.entries {
                out.push(*format);
                wire::put_blob(&mut out, tail);
            }
        }
        out
    }

    /// Reads a compressed frame. Never decompresses more than [`MAX_RAW_BYTES`].
    ///
    /// # Errors
    /// [`FrameError`].
    pub fn decode(bytes: &[u8]) -> Result<Self, FrameError> {
        let mut reader = Reader::new(bytes);
        let length = reader.count(MAX_RAW_BYTES, "a frame's raw length")?;
        let raw = zstd::bulk::decompress(reader.rest(), length).map_err(|e| FrameError::Compression(e.to_string()))?;
        if raw.len() != length {
            return Err(FrameError::Compression(format!("{} bytes came of {length}", raw.len())));
        }
        Self::decode_raw(&raw)
    }

    fn decode_raw(raw: &[u8]) -> Result<Self, FrameError> {
        let mut reader = Reader::new(raw);
        let mut frame = Self::default();
        for _ in 0..reader.count(MAX_RUNS, "a frame's runs")? {
            let run = read_run(&mut reader)?;
            if frame.runs.iter().any(|r| r.log == run.log) {
                return Err(FrameError::Twice(run.log));
            }
            frame.runs.push(run);
        }
        reader.end("a frame")?;
        Ok(frame)
    }
}

fn gather_run(stretch: &Stretch, source: &impl Source) -> Result<EntryRun, FrameError> {
    let log = stretch.log;
    let missing = |seq| FrameError::Missing { log, seq };
    let bytes = source.entries(stretch).ok_or_else(|| missing(stretch.from))?;
    let first_bytes = bytes.first().ok_or_else(|| missing(stretch.from))?;
    let previous = entry::Entry::header(first_bytes)
        .map_err(|_| missing(stretch.from))?
        .previous;
    let mut entries = Vec::with_capacity(bytes.len());
    for (seq, entry_bytes) in (stretch.from..).zip(&bytes) {
        let (format, tail) = entry::without_previous(entry_bytes).ok_or_else(|| missing(seq))?;
        entries.push((format, tail.to_vec()));
    }
    let mut checkpoints = Vec::new();
    for seq in &stretch.checkpoints {
        let signature = source.checkpoint(&log, *seq).ok_or_else(|| missing(*seq))?;
        checkpoints.push(Checkpoint {
            log,
            seq: *seq,
            signature,
        });
    }
    Ok(EntryRun {
        log,
        first: stretch.from,
        previous,
        entries,
        checkpoints,
    })
}

fn read_run(reader: &mut Reader<'_>) -> Result<EntryRun, WireError> {
    let log = reader.log("a run")?;
    let first = reader.number("a run")?.max(1);
    let previous = EntryHash(reader.array("a run")?);
    let count = reader.count(MAX_ENTRIES, "a run's entries")?;
    let mut checkpoints = Vec::new();
    for _ in 0..reader.count(MAX_ENTRIES, "a run's checkpoints")? {
        let seq = reader.number("a checkpoint")?;
        checkpoints.push(Checkpoint {
            log,
            seq,
            signature: reader.array("a checkpoint")?,
        });
    }
    let mut entries = Vec::new();
    for _ in 0..count {
        let format = reader.byte("an entry")?;
        entries.push((format, reader.blob(MAX_ENTRY_BYTES as u64, "an entry")?.to_vec()));
    }
    Ok(EntryRun {
        log,
        first,
        previous,
        entries,
        checkpoints,
    })
}

#[cfg(test)]
#[path = "frame_tests.rs"]
mod tests;
