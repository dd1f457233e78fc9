//! The lock of a home: one process has it open at a time.

use std::fs::{File, OpenOptions};
use std::io::{self, Read, Seek, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

use rustix::fs::FlockOperation;

use super::error::OpenHomeError;
use super::layout::Layout;

/// A lock that is held until this is dropped.
#[derive(Debug)]
pub(super) struct Lock(pub(super) File);

impl Drop for Lock {
    fn drop(&mut self) {
        // Closing is not enough: a child process that is being started shares the open file for a moment, and would keep
        // the home locked. If unlocking fails, closing the file still unlocks it a moment later.
        rustix::fs::flock(&self.0, FlockOperation::Unlock).ok();
    }
}

/// Locks a home, or says who has it.
pub(super) fn lock(layout: &Layout) -> Result<Lock, OpenHomeError> {
    let path = layout.lock();
    let failed = |source| OpenHomeError::Io {
        file: path.clone(),
        source,
    };
    let mut file = open(&path).map_err(failed)?;
    match rustix::fs::flock(&file, FlockOperation::NonBlockingLockExclusive) {
        Ok(()) => {}
        Err(rustix::io::Errno::WOULDBLOCK) => {
            let mut text = String::new();
            // The number is only for people; a lock file without one is as locked.
            file.take(20).read_to_string(&mut text).ok();
            let pid = text.trim().parse().ok();
            return Err(OpenHomeError::Locked {
                path: layout.path().to_path_buf(),
                pid,
            });
        }
        Err(errno) => return Err(failed(errno.into())),
    }
    // Only for people: a full disk must not keep the home from being opened.
    let note = format!("{}\n", std::process::id());
    file.set_len(0)
        .and_then(|()| file.rewind())
        .and_then(|()| file.write_all(note.as_bytes()))
        .ok();
    Ok(Lock(file))
}

/// A home on a disk that takes no writes is locked too: the file is only read then.
fn open(path: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.read(true).write(true).create(true).truncate(false).mode(0o600);
    match options.open(path) {
        Err(e) if e.kind() == io::ErrorKind::ReadOnlyFilesystem => OpenOptions::new().read(true).open(path),
        other => other,
    }
}
