//! The folder of the index: numbered databases, of which the newest counts, and how far it can be trusted.
//!
//! ```text
//! index/3/        the database
//! index/boot      the start of the machine (boot id) in which the index was opened last
//! index/synced    which database, and how many batches were applied to it when it was synced last
//! index/clean     checksum of the database's files, while no process has them open
//! ```
//!
//! Emptying begins the next number instead of clearing in place: a database that broke in this process may still have its
//! files open. After a kill the system still has all that sled wrote. After a power cut it may have part of it, in any order;
//! then the index is trusted only if it is exactly as far as it was when it was synced. And after an orderly close its files
//! must not have changed: sled itself does not notice every flipped byte (measured: of 90 damaged copies one opened as if it
//! were whole, and lacked postings).

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::error::IndexError;
use super::guard::Guarded;
use crate::disk::{self, Disk, RealDisk};

/// Why an index is fresh.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FreshWhy {
    /// There was none.
    New,
    /// It could not be read.
    Broken {
        /// What was seen.
        why: String,
        /// Where it is kept.
        aside: Option<PathBuf>,
    },
    /// It was written by another version.
    OtherSchema,
    /// It was derived from another journal, or from this one before a repair.
    OtherJournal,
    /// The power went while it was being written.
    PowerCut,
}

/// How many broken indexes are kept.
const KEEP_ASIDE: usize = 2;
const ASIDE_PREFIX: &str = "index-";
const CHUNK: usize = 1 << 20;

#[derive(Debug)]
pub(super) struct Folder {
    dir: PathBuf,
    evidence_dir: PathBuf,
    /// Of the newest database; 0 when there is none.
    number: u32,
    same_boot: bool,
    synced: Option<u64>,
    /// Whether the files are known to be as they were left.
    clean: bool,
}

impl Folder {
    pub(super) fn open(dir: &Path, evidence_dir: &Path) -> Result<Self, IndexError> {
        let io = |source| IndexError::Io {
            dir: dir.to_path_buf(),
            source,
        };
        RealDisk.create_dir(dir).map_err(io)?;
        let numbers = numbers(dir, "").map_err(io)?;
        let boot = boot_id();
        let same_boot = boot.is_some() && boot == read_text(&dir.join("boot"));
        if let Some(boot) = boot.filter(|_| !same_boot) {
            // Not synced: whatever a power cut leaves here is not the id of the next start.
            fs::write(dir.join("boot"), boot).map_err(io)?;
        }
        let number = numbers.last().copied().unwrap_or(0);
        let synced = read_text(&dir.join("synced")).and_then(|text| read_synced(&text, number));
        let folder = Self {
            dir: dir.to_path_buf(),
            evidence_dir: evidence_dir.to_path_buf(),
            number,
            same_boot,
            synced,
            clean: false,
        };
        folder.remove_old();
        Ok(folder)
    }

    fn database(&self) -> PathBuf {
        self.dir.join(self.number.to_string())
    }

    pub(super) fn open_newest(&mut self) -> Result<Option<Guarded>, IndexError> {
        if self.number == 0 {
            return Ok(None);
        }
        self.check_clean()?;
        Guarded::open(&self.database()).map(Some)
    }

    /// Compares the files with the checksum noted when they were closed, and removes that note: from now on they change.
    fn check_clean(&mut self) -> Result<(), IndexError> {
        let io = |source| IndexError::Io {
            dir: self.dir.clone(),
            source,
        };
        let note = self.dir.join("clean");
        let Some(noted) = read_text(&note).filter(|noted| !noted.is_empty()) else {
            return Ok(());
        };
        let found = checksum(&self.database()).map_err(io)?;
        fs::remove_file(&note).map_err(io)?;
        self.clean = noted == found;
        if self.clean {
            return Ok(());
        }
        Err(IndexError::Broken {
            dir: self.database(),
            why: "its files are not as they were left".to_owned(),
        })
    }

    /// Notes the checksum of the closed files. Not synced: if a power cut loses the note, or restores one that was removed, the
    /// worst is that the index is derived anew.
    pub(super) fn note_clean(&self) -> Result<(), IndexError> {
        let noted = checksum(&self.database()).and_then(|sum| fs::write(self.dir.join("clean"), sum));
        noted.map_err(|source| IndexError::Io {
            dir: self.dir.clone(),
            source,
        })
    }

    /// Whether a database in which `count` batches were applied is whole.
    pub(super) fn is_trusted(&self, count: u64) -> bool {
        self.clean || self.same_boot || self.synced == Some(count)
    }

    /// Begins an empty database.
    pub(super) fn begin(&mut self) -> Result<Guarded, IndexError> {
        let next = self.dir.join((self.number + 1).to_string());
        // An earlier attempt may have left something there. It must go: it would be taken for what was applied.
        match fs::remove_dir_all(&next) {
            Err(source) if source.kind() != io::ErrorKind::NotFound => {
                let dir = self.dir.clone();
                return Err(IndexError::Io { dir, source });
            }
            _ => {}
        }
        let db = Guarded::open(&next)?;
        self.number += 1;
        self.remove_old();
        self.synced = None;
        Ok(db)
    }

    /// Removes all but the newest. What cannot be removed now is removed at the next open.
    pub(super) fn remove_old(&self) {
        let numbers = numbers(&self.dir, "").unwrap_or_default();
        for old in numbers.into_iter().filter(|number| *number < self.number) {
            fs::remove_dir_all(self.dir.join(old.to_string())).ok();
        }
    }

    /// Moves the newest database to the evidence, and returns where it is.
    ///
    /// When it cannot be moved it stays, and is removed when the next one is begun: it is kept only to find out why it broke.
    pub(super) fn set_aside(&self) -> Option<PathBuf> {
        RealDisk.create_dir(&self.evidence_dir).ok()?;
        let aside = numbers(&self.evidence_dir, ASIDE_PREFIX).ok()?;
        let next = aside.last().map_or(1, |last| last + 1);
        let target = self.evidence_dir.join(format!("{ASIDE_PREFIX}{next}"));
        fs::rename(self.database(), &target).ok()?;
        for old in aside.iter().rev().skip(KEEP_ASIDE - 1) {
            fs::remove_dir_all(self.evidence_dir.join(format!("{ASIDE_PREFIX}{old}"))).ok();
        }
        Some(target)
    }

    /// Makes what sled has flushed durable, and notes how far it is.
    pub(super) fn note_synced(&mut self, count: u64) -> Result<(), IndexError> {
        if self.synced == Some(count) {
            return Ok(());
        }
        let synced = fs::File::open(self.database().join("db"))
            .and_then(|db| db.sync_data())
            .and_then(|()| write_in_place(&self.dir.join("synced"), &synced_note(self.number, count)));
        synced.map_err(|source| IndexError::Io {
            dir: self.dir.clone(),
            source,
        })?;
        self.synced = Some(count);
        Ok(())
    }
}

/// Which database was synced and how far, with a checksum: the file is overwritten in place, and may be torn.
fn synced_note(number: u32, count: u64) -> String {
    let said = format!("{number:08x} {count:016x}");
    format!("{said} {:08x}\n", crc32fast::hash(said.as_bytes()))
}

fn read_synced(text: &str, number: u32) -> Option<u64> {
    let count = text
        .split(' ')
        .nth(1)
        .and_then(|count| u64::from_str_radix(count, 16).ok())?;
    (synced_note(number, count).trim_end() == text).then_some(count)
}

/// One write and one sync; a new file and a rename would take four. The text has always the same length.
fn write_in_place(path: &Path, text: &str) -> io::Result<()> {
    let file = match RealDisk.create(path) {
        Err(e) if e.kind() == io::ErrorKind::AlreadyExists => RealDisk.open(path)?,
        other => other?,
    };
    disk::write_all(file.as_ref(), 0, text.as_bytes())?;
    file.sync()
}

/// The numbers among the names in a folder after a prefix, rising.
fn numbers(dir: &Path, prefix: &str) -> io::Result<Vec<u32>> {
    let names = RealDisk.names(dir)?;
    let parsed = names.iter().filter_map(|name| name.strip_prefix(prefix)?.parse().ok());
    let mut numbers: Vec<u32> = parsed.collect();
    numbers.sort_unstable();
    Ok(numbers)
}

/// Of the names, lengths and bytes of all files in a folder.
fn checksum(dir: &Path) -> io::Result<String> {
    let mut crc = crc32fast::Hasher::new();
    let mut bytes = 0;
    for name in RealDisk.names(dir)? {
        let path = dir.join(&name);
        crc.update(name.as_bytes());
        if fs::metadata(&path)?.is_dir() {
            crc.update(checksum(&path)?.as_bytes());
            continue;
        }
        let file = RealDisk.open(&path)?;
        let mut at = 0;
        loop {
            let chunk = disk::read_up_to(file.as_ref(), at, CHUNK)?;
            if chunk.is_empty() {
                break;
            }
            crc.update(&chunk);
            at += chunk.len() as u64;
        }
        crc.update(&at.to_le_bytes());
        bytes += at;
    }
    Ok(format!("{:08x} {bytes}", crc.finalize()))
}

fn read_text(path: &Path) -> Option<String> {
    let bytes = disk::read_file(&RealDisk, path, 256).ok()?;
    String::from_utf8(bytes).ok().map(|text| text.trim_end().to_owned())
}

/// Names this start of the machine. Where the system has no such name, every start counts as another one.
fn boot_id() -> Option<String> {
    let text = fs::read_to_string("/proc/sys/kernel/random/boot_id").ok()?;
    Some(text.trim_end().to_owned()).filter(|id| !id.is_empty())
}
