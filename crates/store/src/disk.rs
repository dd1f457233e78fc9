//! The operations that the store needs from a file system, as a trait, so that tests can make each of them fail.
//!
//! [`RealDisk`] is the one in use. The `testing` feature adds a disk in memory that loses what was never synced, and a
//! wrapper that fails on demand. Everything that must survive a power cut is written through this trait; only sled writes by
//! itself, and what it writes can be rebuilt.
//!
//! What an implementation must guarantee: after [`DiskFile::sync`] the file's bytes and length survive a power cut; after
//! [`Disk::sync_dir`] the names in that folder do. Nothing else is assumed.

use std::fmt::Debug;
use std::fs::{self, File, OpenOptions};
use std::io;
use std::os::unix::fs::{DirBuilderExt, FileExt, MetadataExt, OpenOptionsExt};
use std::path::Path;

/// The identity of a file apart from its name: it changes when the file is copied, and not when it is renamed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FilePlace {
    /// Number of the device that the file system is on; may change over a restart.
    pub device: u64,
    /// Identity of the file system; 0 when it has none.
    pub filesystem: u64,
    /// Number of the file in its file system; may be used again when the file is gone.
    pub inode: u64,
    /// When the file was made, in nanoseconds since 1970; 0 where the file system does not record it. Only the system sets it.
    pub born_ns: u64,
}

/// A file system.
pub trait Disk: Debug + Send + Sync {
    /// The names in a folder, sorted.
    fn names(&self, dir: &Path) -> io::Result<Vec<String>>;
    /// Makes a folder and those above it, only for the owner to read.
    fn create_dir(&self, dir: &Path) -> io::Result<()>;
    /// Opens an existing file to read and write.
    fn open(&self, path: &Path) -> io::Result<Box<dyn DiskFile>>;
    /// Makes a new file, only for the owner to read; fails when there is one.
    fn create(&self, path: &Path) -> io::Result<Box<dyn DiskFile>>;
    /// Gives a file or folder another name, replacing an existing file or empty folder.
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Removes a file.
    fn remove(&self, path: &Path) -> io::Result<()>;
    /// Makes the names in a folder durable.
    fn sync_dir(&self, dir: &Path) -> io::Result<()>;
    /// How many bytes an ordinary user can still write.
    fn free_bytes(&self, dir: &Path) -> io::Result<u64>;
    /// Whether nobody can write there.
    fn is_read_only(&self, _dir: &Path) -> io::Result<bool> {
        Ok(false)
    }
    /// Where a file is, apart from its name.
    fn place(&self, path: &Path) -> io::Result<FilePlace>;
    /// A random number that others cannot guess.
    fn salt(&self) -> io::Result<u64>;
}

/// An open file.
pub trait DiskFile: Debug + Send + Sync {
    /// Its length.
    fn len(&self) -> io::Result<u64>;
    /// Whether it holds nothing.
    fn is_empty(&self) -> io::Result<bool> {
        Ok(self.len()? == 0)
    }
    /// Reads up to `buf.len()` bytes from `offset`; 0 means the end.
    fn read_at(&self, offset: u64, buf: &mut [u8]) -> io::Result<usize>;
    /// Writes at `offset`; may write less than it was given.
    fn write_at(&self, offset: u64, bytes: &[u8]) -> io::Result<usize>;
    /// Makes bytes and length durable.
    fn sync(&self) -> io::Result<()>;
    /// Cuts the file to `len` bytes.
    fn truncate(&self, len: u64) -> io::Result<()>;
}

/// Writes all of `bytes`, or says why not.
pub(crate) fn write_all(file: &dyn DiskFile, mut offset: u64, mut bytes: &[u8]) -> io::Result<()> {
    while !bytes.is_empty() {
        let n = match file.write_at(offset, bytes) {
            Ok(0) => return Err(io::ErrorKind::WriteZero.into()),
            Ok(n) => n,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
            Err(e) => return Err(e),
        };
        let (_, rest) = bytes
            .split_at_checked(n)
            .ok_or_else(|| io::Error::other("the disk claims to have written more than it was given"))?;
        offset += n as u64;
        bytes = rest;
    }
    Ok(())
}

/// Reads up to `len` bytes from `offset`; fewer only at the end of the file.
pub(crate) fn read_up_to(file: &dyn DiskFile, offset: u64, len: usize) -> io::Result<Vec<u8>> {
    // `vec!` gets zeroed pages from the system; `resize` would write every zero, a megabyte for each small file.
    let mut bytes = vec![0; len];
    read_into(file, offset, len, &mut bytes)?;
    Ok(bytes)
}

fn read_into(file: &dyn DiskFile, offset: u64, len: usize, bytes: &mut Vec<u8>) -> io::Result<()> {
    bytes.resize(len, 0);
    let mut done = 0;
    while let Some(free) = bytes.get_mut(done..).filter(|free| !free.is_empty()) {
        match file.read_at(offset + done as u64, free) {
            Ok(0) => break,
            Ok(n) => done += n,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
    bytes.truncate(done);
    Ok(())
}

/// The unit in which common disks fail to read.
const SECTOR: usize = 4096;

/// Like [`read_up_to`], with zeros for sectors that the disk cannot read. A checksum will show it; one bad sector must not
/// keep the rest of a file from being saved.
pub(crate) fn read_around(file: &dyn DiskFile, offset: u64, len: usize) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    read_around_into(file, offset, len, &mut bytes)?;
    Ok(bytes)
}

/// The same into a buffer that is used again and again.
pub(crate) fn read_around_into(file: &dyn DiskFile, offset: u64, len: usize, bytes: &mut Vec<u8>) -> io::Result<()> {
    match read_into(file, offset, len, bytes) {
        Err(e) if is_bad_sector(&e) => {}
        other => return other,
    }
    let len = usize::try_from(file.len()?.saturating_sub(offset)).map_or(len, |rest| rest.min(len));
    bytes.clear();
    while bytes.len() < len {
        let at = offset + bytes.len() as u64;
        let piece = (SECTOR - (at % SECTOR as u64) as usize).min(len - bytes.len());
        match read_up_to(file, at, piece) {
            Ok(read) if read.len() == piece => bytes.extend(read),
            Ok(_) => return Err(io::ErrorKind::UnexpectedEof.into()),
            Err(e) if is_bad_sector(&e) => bytes.resize(bytes.len() + piece, 0),
            Err(e) => return Err(e),
        }
    }
    Ok(())
}

fn is_bad_sector(error: &io::Error) -> bool {
    error.raw_os_error() == Some(rustix::io::Errno::IO.raw_os_error())
}

/// Reads a file whole, but never more than `cap` bytes.
pub(crate) fn read_file(disk: &dyn Disk, path: &Path, cap: u64) -> io::Result<Vec<u8>> {
    let file = disk.open(path)?;
    let len = file.len()?.min(cap);
    let len = usize::try_from(len).map_err(|_| io::Error::from(io::ErrorKind::OutOfMemory))?;
    read_up_to(file.as_ref(), 0, len)
}

/// Makes a new file durable under its name. After a failure the file is removed, if the disk allows it.
pub(crate) fn write_new(disk: &dyn Disk, path: &Path, bytes: &[u8]) -> io::Result<()> {
    let file = disk.create(path)?;
    let written = write_all(file.as_ref(), 0, bytes)
        .and_then(|()| file.sync())
        .and_then(|()| sync_parent(disk, path));
    if written.is_err() {
        disk.remove(path).ok();
    }
    written
}

/// Puts `bytes` in the place of a file in one step: at every moment there is the old file or the new one.
pub(crate) fn replace(disk: &dyn Disk, temporary: &Path, path: &Path, bytes: &[u8]) -> io::Result<()> {
    match disk.remove(temporary) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => return Err(e),
        _ => {}
    }
    write_new(disk, temporary, bytes)?;
    disk.rename(temporary, path)?;
    sync_parent(disk, path)
}

/// Makes the name of a file durable.
pub(crate) fn sync_parent(disk: &dyn Disk, path: &Path) -> io::Result<()> {
    let dir = path.parent().ok_or_else(|| io::Error::other("a file has no folder"))?;
    disk.sync_dir(dir)
}

/// Whether an error says that there is no room (or no quota) left.
pub(crate) fn is_full(error: &io::Error) -> bool {
    matches!(error.kind(), io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded)
}

/// The file system of the machine.
#[derive(Debug, Clone, Copy, Default)]
pub struct RealDisk;

impl Disk for RealDisk {
    fn names(&self, dir: &Path) -> io::Result<Vec<String>> {
        let mut names = Vec::new();
        for entry in fs::read_dir(dir)? {
            // A name that is not text is not ours.
            names.extend(entry?.file_name().into_string());
        }
        names.sort();
        Ok(names)
    }

    fn create_dir(&self, dir: &Path) -> io::Result<()> {
        fs::DirBuilder::new().recursive(true).mode(0o700).create(dir)
    }

    fn open(&self, path: &Path) -> io::Result<Box<dyn DiskFile>> {
        let opened = match OpenOptions::new().read(true).write(true).open(path) {
            // What is on it can be read all the same.
            Err(e) if e.kind() == io::ErrorKind::ReadOnlyFilesystem => OpenOptions::new().read(true).open(path)?,
            other => other?,
        };
        Ok(Box::new(RealFile(opened)))
    }

    fn create(&self, path: &Path) -> io::Result<Box<dyn DiskFile>> {
        let mut options = OpenOptions::new();
        let file = options.read(true).write(true).create_new(true).mode(0o600).open(path)?;
        Ok(Box::new(RealFile(file)))
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::rename(from, to)
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        fs::remove_file(path)
    }

    fn sync_dir(&self, dir: &Path) -> io::Result<()> {
        let dir = if dir.as_os_str().is_empty() {
            Path::new(".")
        } else {
            dir
        };
        File::open(dir)?.sync_all()
    }

    fn free_bytes(&self, dir: &Path) -> io::Result<u64> {
        let stat = rustix::fs::statvfs(dir)?;
        Ok(stat.f_bavail.saturating_mul(stat.f_frsize))
    }

    fn is_read_only(&self, dir: &Path) -> io::Result<bool> {
        let flags = rustix::fs::statvfs(dir)?.f_flag;
        Ok(flags.contains(rustix::fs::StatVfsMountFlags::RDONLY))
    }

    fn place(&self, path: &Path) -> io::Result<FilePlace> {
        let meta = fs::metadata(path)?;
        let filesystem = rustix::fs::statvfs(path)?.f_fsid;
        Ok(FilePlace {
            device: meta.dev(),
            filesystem,
            inode: meta.ino(),
            born_ns: born_ns(&meta).unwrap_or(0),
        })
    }

    fn salt(&self) -> io::Result<u64> {
        getrandom::u64().map_err(|error| io::Error::other(error.to_string()))
    }
}

fn born_ns(meta: &fs::Metadata) -> Option<u64> {
    let since = meta.created().ok()?.duration_since(std::time::UNIX_EPOCH).ok()?;
    u64::try_from(since.as_nanos()).ok()
}

#[derive(Debug)]
struct RealFile(File);

impl DiskFile for RealFile {
    fn len(&self) -> io::Result<u64> {
        Ok(self.0.metadata()?.len())
    }

    fn read_at(&self, offset: u64, buf: &mut [u8]) -> io::Result<usize> {
        self.0.read_at(buf, offset)
    }

    fn write_at(&self, offset: u64, bytes: &[u8]) -> io::Result<usize> {
        self.0.write_at(bytes, offset)
    }

    fn sync(&self) -> io::Result<()> {
        // fdatasync includes a changed length, which is all the metadata that reading back needs.
        self.0.sync_data()
    }

    fn truncate(&self, len: u64) -> io::Result<()> {
        self.0.set_len(len)
    }
}
