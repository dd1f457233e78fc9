//! The home folder of one node: what is where, its lock, its key, and whether it is a copy.
//!
//! ```text
//! format      gladhand-home 1
//! lock        held (flock) for as long as the home is open; the process number inside is only for people
//! key         the 32 bytes of the device key as hex, a space, their CRC32 as hex; mode 0600
//! config.toml text that this crate does not read
//! mark        where this home is, to notice a copy, and which log it writes (see `mark.rs`)
//! log/ index/ evidence/ pictures/ inbox/ inbox/done/ inbox/rejected/
//! ```
//!
//! A home is made in a folder beside its place and renamed into it: there is a whole one or none.

use std::io;
use std::path::Path;
use std::sync::Arc;

use zeroize::Zeroizing;

use crate::disk::{Disk, RealDisk};

mod create;
mod error;
mod format;
mod key;
mod layout;
mod lock;
mod mark;
mod small;

pub use create::CreateError;
pub use error::OpenHomeError;
pub use format::FORMAT;
pub use layout::Layout;
use lock::Lock;
pub use mark::Unsettled;
use mark::{Mark, WrittenLog};

/// An open home. Other processes cannot open it until this is dropped.
#[derive(Debug)]
pub struct Home {
    layout: Layout,
    /// Held until the last reader is gone.
    lock: Arc<Lock>,
    key_seed: Zeroizing<[u8; 32]>,
    key_exposed: bool,
    mark: Mark,
    marked: Option<Mark>,
    mark_was_damaged: bool,
}

impl Home {
    /// Makes a home at `path` and opens it. `machine_id` tells this machine from others (see [`Home::is_copy`]).
    pub fn create(path: &Path, key_seed: &[u8; 32], config_text: &str, machine_id: &str) -> Result<Self, CreateError> {
        create::create(&RealDisk, path, key_seed, config_text, machine_id)?;
        Ok(Self::open(path, machine_id)?)
    }

    /// Opens the home at `path`.
    pub fn open(path: &Path, machine_id: &str) -> Result<Self, OpenHomeError> {
        let layout = Layout::new(path);
        format::check_format(&layout)?;
        let lock = lock::lock(&layout)?;
        let (key_seed, key_exposed) = key::read_key(&layout.key())?;
        for dir in layout.folders() {
            match RealDisk.create_dir(&dir) {
                // What is missing on a disk that takes no writes is empty.
                Err(e) if e.kind() == io::ErrorKind::ReadOnlyFilesystem => {}
                made => made.map_err(|source| OpenHomeError::Io { file: dir, source })?,
            }
        }
        let marked = Mark::read(&layout.mark());
        let mark = Mark::of(&RealDisk, &layout.mark(), machine_id);
        let mark_was_damaged = marked.is_none() && layout.mark().exists();
        Ok(Self {
            layout,
            mark_was_damaged,
            lock: Arc::new(lock),
            key_seed,
            key_exposed,
            mark,
            marked,
        })
    }

    /// The home as it is now, to read from it beside this one. It keeps other processes out as well.
    pub fn reader(&self) -> Self {
        Self {
            layout: self.layout.clone(),
            lock: Arc::clone(&self.lock),
            key_seed: self.key_seed.clone(),
            key_exposed: self.key_exposed,
            mark: self.mark.clone(),
            marked: self.marked.clone(),
            mark_was_damaged: self.mark_was_damaged,
        }
    }

    /// What is where.
    pub fn layout(&self) -> &Layout {
        &self.layout
    }

    /// The seed of the device key.
    pub fn key_seed(&self) -> &[u8; 32] {
        &self.key_seed
    }

    /// Whether others than the owner can read the key file; the person should be told.
    pub fn key_is_exposed(&self) -> bool {
        self.key_exposed
    }

    /// Whether this home is not where it was made or settled last: copied, restored from a backup, or on
    /// another machine. A home that was only renamed is no copy. When in doubt (the mark is gone or damaged)
    /// the answer is yes: that costs a new incarnation, and a wrong no costs a forked log.
    pub fn is_copy(&self) -> bool {
        !self
            .marked
            .as_ref()
            .is_some_and(|marked| marked.is_same_place(&self.mark))
    }

    /// Whether the mark could not be read when the home was opened, though it was there.
    pub fn mark_was_damaged(&self) -> bool {
        self.mark_was_damaged
    }

    /// The incarnation of the log that this home, or its original, writes. `None` when the mark is gone or damaged, or older than
    /// that line of it.
    pub fn writes(&self) -> Option<u64> {
        self.written_log().map(|written_log| written_log.incarnation)
    }

    /// Why a new incarnation is due, if that was noted and it has not begun.
    pub fn unsettled(&self) -> Option<&Unsettled> {
        self.written_log()
            .and_then(|written_log| written_log.unsettled.as_ref())
    }

    fn written_log(&self) -> Option<&WrittenLog> {
        self.marked.as_ref().and_then(|marked| marked.written_log.as_ref())
    }

    /// Marks this place as the home's, and the log of this incarnation as the one that it writes. Call it after the beginning of
    /// that log is durable.
    pub fn settle_as(&mut self, incarnation: u64) -> io::Result<()> {
        self.put_mark(incarnation, None)
    }

    /// Notes that a new incarnation is due after `incarnation`, so that the need outlives this process.
    pub fn unsettle(&mut self, incarnation: u64, unsettled: Unsettled) -> io::Result<()> {
        self.put_mark(incarnation, Some(unsettled)).inspect_err(|_| {
            // Without a mark a home is taken for a copy, which needs a new incarnation too. Where the file cannot be removed
            // either, the disk accepts no writes, and no log is continued.
            std::fs::remove_file(self.layout.mark()).ok();
            self.marked = None;
        })
    }

    fn put_mark(&mut self, incarnation: u64, unsettled: Option<Unsettled>) -> io::Result<()> {
        let machine = self.mark.machine();
        let written_log = WrittenLog { incarnation, unsettled };
        Mark::write(&RealDisk, &self.layout.mark(), machine, &written_log)?;
        self.marked = Mark::read(&self.layout.mark());
        self.mark = Mark::of_hashed(&RealDisk, &self.layout.mark(), machine);
        Ok(())
    }
}

#[cfg(test)]
#[path = "home_tests.rs"]
mod tests;
