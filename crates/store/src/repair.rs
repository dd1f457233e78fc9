//! Keeps a copy of what was found, and writes a segment anew from its good batches.
//!
//! Invariant: no byte of a damaged file is removed before a copy of it is durable in the evidence folder.

use std::io;
use std::path::{Path, PathBuf};

use crate::disk::{self, Disk, DiskFile};
use crate::found::Found;
use crate::frame;
use crate::scan::PlacedBatch;
use crate::segment::{HEADER_LEN, Header, file_name};

const CHUNK: usize = 1 << 20;

/// Copies the bytes of `file` from `from` on into the evidence folder and makes the copy durable.
///
/// A copy that is already there is used again, so that opens that fail half-way do not fill the disk with copies of the same
/// damage.
pub(crate) fn keep(disk: &dyn Disk, dir: &Path, name: &str, file: &dyn DiskFile, from: u64) -> io::Result<PathBuf> {
    disk.create_dir(dir)?;
    for n in 1u32.. {
        let path = dir.join(format!("{name}.{n}"));
        match disk.open(&path) {
            Ok(other) if same_bytes(other.as_ref(), file, from)? => return Ok(path),
            Ok(_) => {}
            Err(e) if e.kind() == io::ErrorKind::NotFound => {
                copy(disk, &path, file, from)?;
                return Ok(path);
            }
            Err(e) => return Err(e),
        }
    }
    Err(io::ErrorKind::AlreadyExists.into())
}

fn same_bytes(copy: &dyn DiskFile, file: &dyn DiskFile, from: u64) -> io::Result<bool> {
    let len = copy.len()?;
    if Some(len) != file.len()?.checked_sub(from) {
        return Ok(false);
    }
    let mut at = 0;
    while at < len {
        if disk::read_around(copy, at, CHUNK)? != disk::read_around(file, from + at, CHUNK)? {
            return Ok(false);
        }
        at += CHUNK as u64;
    }
    Ok(true)
}

fn copy(disk: &dyn Disk, path: &Path, file: &dyn DiskFile, from: u64) -> io::Result<()> {
    let target = disk.create(path)?;
    let copied = copy_bytes(target.as_ref(), file, from)
        .and_then(|()| target.sync())
        .and_then(|()| disk::sync_parent(disk, path));
    if copied.is_err() {
        disk.remove(path).ok();
    }
    copied
}

fn copy_bytes(target: &dyn DiskFile, file: &dyn DiskFile, from: u64) -> io::Result<()> {
    let mut at = 0;
    loop {
        let chunk = disk::read_around(file, from + at, CHUNK)?;
        if chunk.is_empty() {
            return Ok(());
        }
        disk::write_all(target, at, &chunk)?;
        at += chunk.len() as u64;
    }
}

/// A segment as it is after a repair.
pub(crate) struct Rewritten {
    pub(crate) header: Header,
    pub(crate) bytes: Vec<u8>,
    /// Where each of the good batches is now.
    pub(crate) starts: Vec<usize>,
}

/// Lays out a segment anew from the good batches of the old bytes.
pub(crate) fn rewrite(old: &[u8], batches: &[PlacedBatch<'_>], header: Header, sealed: bool) -> Rewritten {
    // Any number that depends on the damaged bytes, and is not the 0 of a segment as first written.
    let header = Header {
        edition: crc32fast::hash(old) | 1,
        ..header
    };
    let mut bytes = header.to_bytes();
    let mut starts = Vec::with_capacity(batches.len());
    for placed in batches {
        starts.push(bytes.len());
        bytes.extend(placed.batch.bytes);
    }
    if sealed {
        bytes.extend(frame::seal(header.salt));
    }
    Rewritten { header, bytes, starts }
}

/// A segment in which single bits were put right and nothing else was wrong. It has its old bytes, and so its old edition: what
/// was derived from it still holds.
pub(crate) fn as_it_was(found: &Found<'_>) -> Rewritten {
    Rewritten {
        header: found.header,
        bytes: found.bytes.to_vec(),
        starts: found.survey.batches.iter().map(|placed| placed.at).collect(),
    }
}

/// An empty segment in the place of segments that are gone, so that their loss is reported only once.
pub(crate) fn stub(number: u32, previous: u32, salt: u64) -> Rewritten {
    rewrite(
        &[],
        &[],
        Header {
            number,
            previous,
            edition: 0,
            salt,
        },
        true,
    )
}

/// Puts a repaired segment in its place.
pub(crate) fn install(disk: &dyn Disk, dir: &Path, repaired: &Rewritten) -> io::Result<()> {
    debug_assert!(repaired.bytes.len() >= HEADER_LEN);
    let name = file_name(repaired.header.number);
    let temporary = dir.join(format!("{name}.new"));
    disk::replace(disk, &temporary, &dir.join(name), &repaired.bytes)
}
