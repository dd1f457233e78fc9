//! Pictures that arrive range by range: `pictures/partial/ab12….part`, kept across cuts and restarts.
//!
//! A part is not used until [`Pictures::finish`] has checked its bytes against its name; then it is renamed into its place.
//! Parts are not synced while they arrive: if a power cut damages one, that check fails and it is fetched again.

use std::io;
use std::path::{Path, PathBuf};

use crate::disk;
use crate::pictures::{PictureError, PictureHash, Pictures};

/// How many parts are kept. Fewer pictures are fetched at once; more parts are left-overs.
const MAX_PARTS: usize = 64;
/// How much of a part is read at once to check it.
const STEP: usize = 256 << 10;

/// Some bytes of a picture that is stored here.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PictureRange {
    /// How long the whole picture is.
    pub total: u64,
    /// The bytes.
    pub bytes: Vec<u8>,
}

impl Pictures {
    fn part(&self, hash: &PictureHash) -> PathBuf {
        self.parts().join(format!("{}.part", hash.hex()))
    }

    fn parts(&self) -> PathBuf {
        self.dir.join("partial")
    }

    /// Up to `len` bytes of a picture from `at` on. `None` when it is not here.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn range(&self, hash: &PictureHash, at: u64, len: usize) -> Result<Option<PictureRange>, PictureError> {
        let path = self.path(hash);
        let read = self.disk.open(&path).and_then(|file| {
            let total = file.len()?;
            let bytes = disk::read_up_to(file.as_ref(), at, len)?;
            Ok(PictureRange { total, bytes })
        });
        match read {
            Ok(range) => Ok(Some(range)),
            Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(source) => Err(PictureError::Io { file: path, source }),
        }
    }

    /// How many bytes of a picture have arrived.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn begun(&self, hash: &PictureHash) -> Result<u64, PictureError> {
        let path = self.part(hash);
        match self.disk.open(&path).and_then(|file| file.len()) {
            Ok(held) => Ok(held),
            Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(0),
            Err(source) => Err(PictureError::Io { file: path, source }),
        }
    }

    /// Where fetching a picture goes on. `None`: it is here. A part that is complete is put in its place, as after a process that
    /// ended before it could do so; one that is too long is thrown away. Whether a part of any other length belongs to the
    /// picture is only known when the rest has arrived.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn resume(&self, hash: &PictureHash) -> Result<Option<u64>, PictureError> {
        let begun = self.begun(hash)?;
        if self.has(hash) {
            // Left over: the picture has come some other way.
            return if begun > 0 { self.abandon(hash) } else { Ok(()) }.map(|()| None);
        }
        if begun > self.max_bytes {
            return self.abandon(hash).map(|()| Some(0));
        }
        if begun == 0 {
            return Ok(Some(0));
        }
        let path = self.part(hash);
        let placed = self.hash_of_part(&path).and_then(|found| {
            let whole = found == *hash;
            if whole {
                self.place(&path, hash)?;
            }
            Ok(whole)
        });
        let placed = placed.map_err(|source| PictureError::Io { file: path, source })?;
        Ok((!placed).then_some(begun))
    }

    /// Adds bytes that begin at `at`; returns how many have arrived then.
    ///
    /// # Errors
    /// When they do not follow what has arrived, the picture gets too long, or the disk has no room to spare. The part stays as
    /// it was.
    pub fn extend(&self, hash: &PictureHash, at: u64, bytes: &[u8]) -> Result<u64, PictureError> {
        let upto = at.saturating_add(bytes.len() as u64);
        if upto > self.max_bytes {
            return Err(PictureError::TooLarge {
                bytes: upto,
                max: self.max_bytes,
            });
        }
        self.has_room(bytes.len() as u64)?;
        let path = self.part(hash);
        let wrong = |source| PictureError::Io {
            file: path.clone(),
            source,
        };
        let file = match self.disk.open(&path) {
            Err(e) if e.kind() == io::ErrorKind::NotFound && at == 0 => self.begin(&path).map_err(wrong)?,
            opened => opened.map_err(wrong)?,
        };
        let held = file.len().map_err(wrong)?;
        if held != at {
            return Err(PictureError::Gap { held, at });
        }
        let written = disk::write_all(file.as_ref(), at, bytes);
        if written.is_err() {
            // If that fails too, the part is longer than it says, and the next range does not fit it.
            file.truncate(at).ok();
        }
        written.map_err(wrong)?;
        Ok(upto)
    }

    fn has_room(&self, bytes: u64) -> Result<(), PictureError> {
        // The folder may not be there yet; the home above it is.
        let home = self.dir.parent().unwrap_or(&self.dir);
        let free = self.disk.free_bytes(home).map_err(|source| PictureError::Io {
            file: home.to_path_buf(),
            source,
        })?;
        if free.saturating_sub(bytes) < self.floor_bytes {
            return Err(PictureError::NoRoom {
                free,
                floor: self.floor_bytes,
            });
        }
        Ok(())
    }

    fn begin(&self, path: &Path) -> io::Result<Box<dyn disk::DiskFile>> {
        let parts = self.parts();
        self.disk.create_dir(&parts)?;
        let names = self.disk.names(&parts)?;
        if let Some(old) = names.first().filter(|_| names.len() >= MAX_PARTS) {
            self.disk.remove(&parts.join(old))?;
        }
        self.disk.create(path)
    }

    /// Ends a picture. `true` when its bytes are those that its name says: then it is durable in its place. Otherwise the part is
    /// removed.
    ///
    /// # Errors
    /// When the disk refuses; the part stays.
    pub fn finish(&self, hash: &PictureHash) -> Result<bool, PictureError> {
        let path = self.part(hash);
        let done = self.hash_of_part(&path).and_then(|found| {
            if found != *hash {
                return self.disk.remove(&path).map(|()| false);
            }
            self.place(&path, hash).map(|()| true)
        });
        done.map_err(|source| PictureError::Io { file: path, source })
    }

    fn hash_of_part(&self, path: &Path) -> io::Result<PictureHash> {
        let file = self.disk.open(path)?;
        let (mut hasher, mut at) = (blake3::Hasher::new(), 0);
        loop {
            let bytes = disk::read_up_to(file.as_ref(), at, STEP)?;
            if bytes.is_empty() {
                break;
            }
            hasher.update(&bytes);
            at += bytes.len() as u64;
        }
        Ok(PictureHash(*hasher.finalize().as_bytes()))
    }

    fn place(&self, part: &Path, hash: &PictureHash) -> io::Result<()> {
        let folder = self.folder_of(hash);
        self.disk.open(part)?.sync()?;
        self.disk.create_dir(&folder)?;
        self.disk.sync_dir(&self.dir)?;
        self.disk.rename(part, &self.path(hash))?;
        self.disk.sync_dir(&folder)
    }

    /// Removes what has arrived of a picture.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn abandon(&self, hash: &PictureHash) -> Result<(), PictureError> {
        let path = self.part(hash);
        match self.disk.remove(&path) {
            Err(e) if e.kind() != io::ErrorKind::NotFound => Err(PictureError::Io { file: path, source: e }),
            _ => Ok(()),
        }
    }
}

#[cfg(test)]
#[path = "partial_tests.rs"]
mod tests;
