//! Pictures, each a file named by the BLAKE3 of its bytes: `pictures/ab/ab12….bin`.
//!
//! A file has exactly the bytes that its name says, or reading it reports damage. A picture that is put twice is stored once.
//! Nothing is ever removed here, and the bytes are not interpreted.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::sync::Arc;

use gladhand_facts::FactId;

use crate::disk::{self, Disk, RealDisk};

/// The name of a picture; in text `blake3:` and 64 hexadecimal digits, as facts write it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PictureHash(pub [u8; 32]);

impl PictureHash {
    /// The name of these bytes.
    pub fn of(bytes: &[u8]) -> Self {
        Self(*blake3::hash(bytes).as_bytes())
    }

    pub(crate) fn hex(&self) -> String {
        self.0.iter().map(|byte| format!("{byte:02x}")).collect()
    }
}

impl fmt::Display for PictureHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "blake3:{}", self.hex())
    }
}

/// A text that names no picture.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is not the name of a picture: it is written blake3: and 64 hexadecimal digits")]
pub struct NotAPictureHash(String);

impl FromStr for PictureHash {
    type Err = NotAPictureHash;
    fn from_str(text: &str) -> Result<Self, NotAPictureHash> {
        // The same 32 bytes in hexadecimal as any identifier of the project.
        let id = text.strip_prefix("blake3:").and_then(|hex| hex.parse::<FactId>().ok());
        id.map(|id| Self(id.0))
            .ok_or_else(|| NotAPictureHash(text.chars().take(100).collect()))
    }
}

/// Why a picture could not be stored or read.
#[derive(Debug, thiserror::Error)]
pub enum PictureError {
    /// Larger than the limit.
    #[error("a picture of {bytes} bytes is over the limit of {max}")]
    TooLarge {
        /// Its size.
        bytes: u64,
        /// The limit.
        max: u64,
    },
    /// The bytes of this file are not those that its name says. Putting the picture again repairs it.
    #[error("{file} is damaged: its bytes are not what its name says")]
    Damaged {
        /// The file.
        file: PathBuf,
    },
    /// The disk has no room to spare for pictures.
    #[error("{free} bytes are free; pictures are fetched only while {floor} stay free")]
    NoRoom {
        /// What is free.
        free: u64,
        /// What has to stay free.
        floor: u64,
    },
    /// Bytes that do not follow those that have arrived.
    #[error("{held} bytes have arrived; those from {at} on do not follow")]
    Gap {
        /// How many have arrived.
        held: u64,
        /// Where the new ones begin.
        at: u64,
    },
    /// The disk refused.
    #[error("cannot keep or read {file}: {source}")]
    Io {
        /// The file or folder.
        file: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

/// The pictures of a home.
#[derive(Debug, Clone)]
pub struct Pictures {
    pub(crate) disk: Arc<dyn Disk>,
    pub(crate) dir: PathBuf,
    pub(crate) max_bytes: u64,
    pub(crate) floor_bytes: u64,
}

/// The pictures of these cameras are much smaller.
const DEFAULT_MAX_BYTES: u64 = 32 << 20;

impl Pictures {
    /// The pictures in `dir` on the machine's disk.
    pub fn new(dir: &Path) -> Self {
        Self::new_on(Arc::new(RealDisk), dir, DEFAULT_MAX_BYTES)
    }

    /// As [`Pictures::new`], on any disk and with any limit.
    pub fn new_on(disk: Arc<dyn Disk>, dir: &Path, max_bytes: u64) -> Self {
        Self {
            disk,
            dir: dir.to_path_buf(),
            max_bytes,
            floor_bytes: 0,
        }
    }

    /// Pictures are fetched only while this much stays free on the disk. Pictures of this device's own facts are always kept.
    #[must_use]
    pub fn with_floor(self, floor_bytes: u64) -> Self {
        Self { floor_bytes, ..self }
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        &self.dir
    }

    /// How long a picture may be.
    pub fn max_bytes(&self) -> u64 {
        self.max_bytes
    }

    /// Where a picture is kept, or would be.
    pub fn path(&self, hash: &PictureHash) -> PathBuf {
        self.folder_of(hash).join(format!("{}.bin", hash.hex()))
    }

    /// The folder of a picture: named by the first byte of its hash, so that no folder gets too long.
    pub(crate) fn folder_of(&self, hash: &PictureHash) -> PathBuf {
        let [first, ..] = hash.0;
        self.dir.join(format!("{first:02x}"))
    }

    /// Makes a picture durable and returns its name. Repairs a damaged one of the same name.
    pub fn put(&self, bytes: &[u8]) -> Result<PictureHash, PictureError> {
        let len = bytes.len() as u64;
        if len > self.max_bytes {
            return Err(PictureError::TooLarge {
                bytes: len,
                max: self.max_bytes,
            });
        }
        let hash = PictureHash::of(bytes);
        match self.get(&hash) {
            Ok(Some(_)) => Ok(hash),
            Ok(None) | Err(PictureError::Damaged { .. }) => self.write(hash, bytes).map(|()| hash),
            Err(error) => Err(error),
        }
    }

    fn write(&self, hash: PictureHash, bytes: &[u8]) -> Result<(), PictureError> {
        let file = self.path(&hash);
        let temporary = file.with_extension("part");
        let written = self.disk.create_dir(&self.folder_of(&hash)).and_then(|()| {
            self.disk.sync_dir(&self.dir)?;
            disk::replace(self.disk.as_ref(), &temporary, &file, bytes)
        });
        written.map_err(|source| PictureError::Io { file, source })
    }

    /// Whether there is a file of that name. Does not read it.
    pub fn has(&self, hash: &PictureHash) -> bool {
        self.disk.open(&self.path(hash)).is_ok()
    }

    /// A picture, checked against its name. `None` when it is not here.
    pub fn get(&self, hash: &PictureHash) -> Result<Option<Vec<u8>>, PictureError> {
        let file = self.path(hash);
        // One byte more than is allowed: a file that is too long is damaged, and is not read whole.
        match disk::read_file(self.disk.as_ref(), &file, self.max_bytes.saturating_add(1)) {
            Ok(bytes) if PictureHash::of(&bytes) == *hash => Ok(Some(bytes)),
            Ok(_) => Err(PictureError::Damaged { file }),
            Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(source) => Err(PictureError::Io { file, source }),
        }
    }

    /// The names that are here, in order.
    pub fn list(&self) -> Result<Vec<PictureHash>, PictureError> {
        let mut hashes = Vec::new();
        for folder in self.names(&self.dir)?.iter().filter(|name| name.len() == 2) {
            let names = self.names(&self.dir.join(folder))?;
            let hexes = names.iter().filter_map(|name| name.strip_suffix(".bin"));
            hashes.extend(hexes.filter_map(|hex| format!("blake3:{hex}").parse::<PictureHash>().ok()));
        }
        Ok(hashes)
    }

    fn names(&self, dir: &Path) -> Result<Vec<String>, PictureError> {
        match self.disk.names(dir) {
            Ok(names) => Ok(names),
            Err(e) if matches!(e.kind(), io::ErrorKind::NotFound | io::ErrorKind::NotADirectory) => Ok(Vec::new()),
            Err(source) => Err(PictureError::Io {
                file: dir.to_path_buf(),
                source,
            }),
        }
    }

    /// Reads every picture back and returns those that are not what their name says.
    pub fn verify(&self) -> Result<Vec<PictureHash>, PictureError> {
        let mut damaged = Vec::new();
        for hash in self.list()? {
            match self.get(&hash) {
                Err(PictureError::Damaged { .. }) => damaged.push(hash),
                other => other.map(drop)?,
            }
        }
        Ok(damaged)
    }
}

#[cfg(test)]
#[path = "pictures_tests.rs"]
mod tests;
