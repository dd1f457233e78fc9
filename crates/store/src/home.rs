//! The home folder of one node: what is where, its lock, its key, and whether it is a copy.
//!
//! ```text
//! format      gladhand-home 1
//! lock        held (flock) for as long as the home is open; the process number inside is only for people
//! key         the 32 bytes of the device key as hex, a space, their CRC32 as hex; mode 0600
//! config.toml text that this crate does not look into
//! mark        where this home stands, to notice a copy, and which log it writes (see `mark.rs`)
//! log/ index/ evidence/ pictures/ inbox/ inbox/done/ inbox/rejected/
//! ```
//!
//! A home is made in a folder beside its place and renamed into it: there is a whole one or none. The CRC of
//! the key is there because every 64 hexadecimal digits are some key: without it a flipped digit would be
//! another device, not damage.

use std::fs::{File, OpenOptions};
use std::io::{self, Read, Seek, Write};
use std::os::unix::fs::{OpenOptionsExt, PermissionsExt};
use std::path::{Path, PathBuf};

use rustix::fs::FlockOperation;
use zeroize::Zeroizing;

use crate::disk::{self, Disk, RealDisk};

mod create;
mod layout;
mod mark;

pub use create::CreateError;
pub use layout::Layout;
pub use mark::Unsettled;
use mark::{Life, Mark};

/// The newest format of a home that this program knows.
pub const FORMAT: u32 = 1;

const FORMAT_WORD: &str = "gladhand-home";
/// None of our small files is longer; one that is, is not ours.
const SMALL_FILE_CAP: u64 = 1 << 20;

/// Why a home could not be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenHomeError {
    /// There is no home.
    #[error("there is no home at {0}")]
    Missing(PathBuf),
    /// A later version made it.
    #[error("the home at {path} has format {found}; this program knows formats up to {known}: use a newer one")]
    TooNew {
        /// The home.
        path: PathBuf,
        /// Its format.
        found: u32,
        /// The newest known here.
        known: u32,
    },
    /// A file of it is not what it was.
    #[error("{file} is damaged: {why}")]
    Damaged {
        /// Which file.
        file: PathBuf,
        /// What is wrong with it.
        why: &'static str,
    },
    /// Another process has it open.
    #[error("the home at {path} is in use by another process{}", number(*.pid))]
    Locked {
        /// The home.
        path: PathBuf,
        /// The process, when it left its number.
        pid: Option<u32>,
    },
    /// The disk refused.
    #[error("cannot open {file}: {source}")]
    Io {
        /// What was touched.
        file: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

fn number(pid: Option<u32>) -> String {
    pid.map_or(String::new(), |pid| format!(" (number {pid})"))
}

/// An open home. Nobody else can open it until this is dropped.
#[derive(Debug)]
pub struct Home {
    layout: Layout,
    _lock: Lock,
    key_seed: Zeroizing<[u8; 32]>,
    key_exposed: bool,
    mark: Mark,
    marked: Option<Mark>,
    mark_was_damaged: bool,
}

impl Home {
    /// Makes a home at `path` and opens it. `machine_id` is whatever names this machine (see [`Home::is_copy`]).
    pub fn create(path: &Path, key_seed: &[u8; 32], config_text: &str, machine_id: &str) -> Result<Self, CreateError> {
        create::create(&RealDisk, path, key_seed, config_text, machine_id)?;
        Ok(Self::open(path, machine_id)?)
    }

    /// Opens the home at `path`.
    pub fn open(path: &Path, machine_id: &str) -> Result<Self, OpenHomeError> {
        let layout = Layout::new(path);
        check_format(&layout)?;
        let lock = lock(&layout)?;
        let (key_seed, key_exposed) = read_key(&layout.key())?;
        for dir in layout.folders() {
            RealDisk
                .create_dir(&dir)
                .map_err(|source| OpenHomeError::Io { file: dir, source })?;
        }
        let marked = Mark::read(&layout.mark());
        let mark = Mark::of(&RealDisk, &layout.mark(), machine_id);
        let mark_was_damaged = marked.is_none() && layout.mark().exists();
        Ok(Self {
            layout,
            mark_was_damaged,
            _lock: lock,
            key_seed,
            key_exposed,
            mark,
            marked,
        })
    }

    /// What is where.
    pub fn layout(&self) -> &Layout {
        &self.layout
    }

    /// The seed of the device key.
    pub fn key_seed(&self) -> &[u8; 32] {
        &self.key_seed
    }

    /// Whether others than the owner can read the key file: the user should be told.
    pub fn key_is_exposed(&self) -> bool {
        self.key_exposed
    }

    /// Whether this home is not where it was made or settled last: copied, restored from a backup, or on
    /// another machine. A home that was only renamed is not. When in doubt (the mark is gone or damaged)
    /// the answer is yes: the cost is a new incarnation, and the cost of a wrong no is a forked log.
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

    /// The incarnation of the log that this home, or the one that it is a copy of, writes. `None` when the mark is gone, damaged,
    /// or from before marks said so.
    pub fn writes(&self) -> Option<u64> {
        self.life().map(|life| life.incarnation)
    }

    /// Why a new incarnation is due, if that was noted and has not happened yet.
    pub fn unsettled(&self) -> Option<&Unsettled> {
        self.life().and_then(|life| life.unsettled.as_ref())
    }

    fn life(&self) -> Option<&Life> {
        self.marked.as_ref().and_then(|marked| marked.life.as_ref())
    }

    /// Marks this place as the home's, whatever log it writes.
    pub fn settle(&mut self) -> io::Result<()> {
        self.put_mark(self.writes().unwrap_or(1), None)
    }

    /// Marks this place as the home's, where it writes the log of this incarnation. Call it after the beginning of that log is
    /// durable.
    pub fn settle_as(&mut self, incarnation: u64) -> io::Result<()> {
        self.put_mark(incarnation, None)
    }

    /// Notes that a new incarnation is due after `incarnation`, so that the need outlives this process.
    pub fn unsettle(&mut self, incarnation: u64, unsettled: Unsettled) -> io::Result<()> {
        self.put_mark(incarnation, Some(unsettled)).inspect_err(|_| {
            // Without a mark a home is taken for a copy, which asks for the same.
            std::fs::remove_file(self.layout.mark()).ok();
            self.marked = None;
        })
    }

    fn put_mark(&mut self, incarnation: u64, unsettled: Option<Unsettled>) -> io::Result<()> {
        let machine = self.mark.machine();
        let life = Life { incarnation, unsettled };
        Mark::write(&RealDisk, &self.layout.mark(), machine, &life)?;
        self.marked = Mark::read(&self.layout.mark());
        self.mark = Mark::of_hashed(&RealDisk, &self.layout.mark(), machine);
        Ok(())
    }
}

fn check_format(layout: &Layout) -> Result<(), OpenHomeError> {
    let file = layout.format();
    let text = match read_small(&file) {
        Ok(text) => text,
        Err(e) if matches!(e.kind(), io::ErrorKind::NotFound | io::ErrorKind::NotADirectory) => {
            return Err(missing_or_damaged(layout));
        }
        Err(source) => return Err(OpenHomeError::Io { file, source }),
    };
    let found = text
        .trim_end()
        .strip_prefix(FORMAT_WORD)
        .and_then(|rest| rest.strip_prefix(' '));
    match found.and_then(|number| number.parse().ok()) {
        Some(0) | None => Err(OpenHomeError::Damaged {
            file,
            why: "it does not say 'gladhand-home' and a number",
        }),
        Some(found) if found > FORMAT => Err(OpenHomeError::TooNew {
            path: layout.path().to_path_buf(),
            found,
            known: FORMAT,
        }),
        Some(_) => Ok(()),
    }
}

/// Without the format file: no home at all, or one that lost it.
fn missing_or_damaged(layout: &Layout) -> OpenHomeError {
    if layout.key().exists() {
        OpenHomeError::Damaged {
            file: layout.format(),
            why: "it is gone, though a key is here",
        }
    } else {
        OpenHomeError::Missing(layout.path().to_path_buf())
    }
}

/// The lock of a home, held.
#[derive(Debug)]
struct Lock(File);

impl Drop for Lock {
    fn drop(&mut self) {
        // Closing is not enough: a child process that is just being started shares the open file for a moment,
        // and would keep the home locked after its owner let go.
        rustix::fs::flock(&self.0, FlockOperation::Unlock).ok();
    }
}

fn lock(layout: &Layout) -> Result<Lock, OpenHomeError> {
    let path = layout.lock();
    let io = |source| OpenHomeError::Io {
        file: path.clone(),
        source,
    };
    let mut options = OpenOptions::new();
    let mut file = options
        .read(true)
        .write(true)
        .create(true)
        .truncate(false)
        .mode(0o600)
        .open(&path)
        .map_err(io)?;
    match rustix::fs::flock(&file, FlockOperation::NonBlockingLockExclusive) {
        Ok(()) => {}
        Err(rustix::io::Errno::WOULDBLOCK) => {
            let mut text = String::new();
            file.take(20).read_to_string(&mut text).ok();
            let pid = text.trim().parse().ok();
            return Err(OpenHomeError::Locked {
                path: layout.path().to_path_buf(),
                pid,
            });
        }
        Err(errno) => return Err(io(errno.into())),
    }
    // Only for people: a disk too full for six bytes must not keep the home shut.
    let note = format!("{}\n", std::process::id());
    file.set_len(0)
        .and_then(|()| file.rewind())
        .and_then(|()| file.write_all(note.as_bytes()))
        .ok();
    Ok(Lock(file))
}

fn read_small(file: &Path) -> io::Result<String> {
    let bytes = disk::read_file(&RealDisk, file, SMALL_FILE_CAP)?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

fn key_text(seed: &[u8; 32]) -> Zeroizing<String> {
    let mut text = Zeroizing::new(String::with_capacity(80));
    for byte in seed {
        text.push_str(&Zeroizing::new(format!("{byte:02x}")));
    }
    text.push_str(&format!(" {:08x}\n", crc32fast::hash(seed)));
    text
}

fn read_key(file: &Path) -> Result<(Zeroizing<[u8; 32]>, bool), OpenHomeError> {
    let io = |source| OpenHomeError::Io {
        file: file.to_path_buf(),
        source,
    };
    let damaged = |why| OpenHomeError::Damaged {
        file: file.to_path_buf(),
        why,
    };
    let opened = match File::open(file) {
        Ok(opened) => opened,
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Err(damaged("it is gone")),
        Err(source) => return Err(io(source)),
    };
    let exposed = opened.metadata().map_err(io)?.permissions().mode() & 0o077 != 0;
    let mut bytes = Zeroizing::new(Vec::with_capacity(128));
    opened.take(128).read_to_end(&mut bytes).map_err(io)?;
    let seed =
        parse_key(&bytes).ok_or_else(|| damaged("it is not a key as setup wrote it; restore it from a backup"))?;
    Ok((seed, exposed))
}

fn parse_key(bytes: &[u8]) -> Option<Zeroizing<[u8; 32]>> {
    let text = std::str::from_utf8(bytes).ok()?;
    let (hex, crc) = text.trim_end().split_once(' ')?;
    let mut seed = Zeroizing::new([0; 32]);
    if hex.len() != 64 || crc.len() != 8 {
        return None;
    }
    for (slot, pair) in seed.iter_mut().zip(hex.as_bytes().chunks_exact(2)) {
        *slot = u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok()?;
    }
    let good = u32::from_str_radix(crc, 16) == Ok(crc32fast::hash(seed.as_slice()));
    good.then_some(seed)
}

#[cfg(test)]
#[path = "home_tests.rs"]
mod tests;
