//! Making a home: built beside its place, made durable, and renamed into it.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use rustix::fs::FlockOperation;

use super::error::OpenHomeError;
use super::format::{FORMAT, FORMAT_WORD};
use super::key::key_text;
use super::layout::Layout;
use super::lock::Lock;
use super::mark::{Mark, WrittenLog, hash_machine};
use crate::disk::{self, Disk};

/// Why a home could not be made. Nothing is left at its place.
#[derive(Debug, thiserror::Error)]
pub enum CreateError {
    /// Something is there already.
    #[error("{0} exists already and is not empty: a home is made only where there is nothing")]
    Exists(PathBuf),
    /// The path names no folder of its own.
    #[error("{0} cannot be the name of a home")]
    BadName(PathBuf),
    /// Another process is making a home in the same folder.
    #[error("another setup is at work in {0}")]
    Busy(PathBuf),
    /// The disk refused.
    #[error("cannot make a home at {path}: {source}")]
    Io {
        /// The home.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// It was made, and could not be opened.
    #[error(transparent)]
    Open(#[from] OpenHomeError),
}

pub(super) fn create(
    disk: &dyn Disk,
    path: &Path,
    key_seed: &[u8; 32],
    config_text: &str,
    machine_id: &str,
) -> Result<(), CreateError> {
    let io = |source| CreateError::Io {
        path: path.to_path_buf(),
        source,
    };
    let Some(name) = path.file_name().and_then(|name| name.to_str()) else {
        return Err(CreateError::BadName(path.to_path_buf()));
    };
    let parent = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    refuse_existing(path)?;
    disk.create_dir(parent).map_err(io)?;
    let _alone = lock_folder(parent)?;
    let half = parent.join(format!(".{name}.half-made"));
    // While this process has the lock, a half-made home is one that a killed process left.
    remove_tree(&half).map_err(io)?;
    let made = build(disk, &Layout::new(&half), key_seed, config_text, machine_id)
        .and_then(|()| disk.rename(&half, path))
        // What may not be durable is removed again while nothing depends on it.
        .and_then(|()| disk.sync_dir(parent).inspect_err(|_| drop(remove_tree(path))));
    if let Err(source) = made {
        remove_tree(&half).ok();
        return Err(match source.kind() {
            io::ErrorKind::DirectoryNotEmpty | io::ErrorKind::AlreadyExists => CreateError::Exists(path.to_path_buf()),
            _ => io(source),
        });
    }
    Ok(())
}

fn refuse_existing(path: &Path) -> Result<(), CreateError> {
    let exists = || CreateError::Exists(path.to_path_buf());
    match fs::symlink_metadata(path) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(()),
        Err(source) => Err(CreateError::Io {
            path: path.to_path_buf(),
            source,
        }),
        Ok(meta) if !meta.is_dir() => Err(exists()),
        Ok(_) => match fs::read_dir(path).map(|mut names| names.next().is_none()) {
            Ok(true) => Ok(()),
            Ok(false) => Err(exists()),
            Err(source) => Err(CreateError::Io {
                path: path.to_path_buf(),
                source,
            }),
        },
    }
}

/// Keeps out a second setup in the same folder. Where a folder cannot be locked, exclusive creation has to be enough.
fn lock_folder(parent: &Path) -> Result<Option<Lock>, CreateError> {
    let Ok(folder) = File::open(parent) else {
        return Ok(None);
    };
    match rustix::fs::flock(&folder, FlockOperation::NonBlockingLockExclusive) {
        Err(rustix::io::Errno::WOULDBLOCK) => Err(CreateError::Busy(parent.to_path_buf())),
        _ => Ok(Some(Lock(folder))),
    }
}

fn remove_tree(path: &Path) -> io::Result<()> {
    match fs::remove_dir_all(path) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => Err(e),
        _ => Ok(()),
    }
}

fn build(disk: &dyn Disk, layout: &Layout, key_seed: &[u8; 32], config_text: &str, machine_id: &str) -> io::Result<()> {
    disk.create_dir(layout.path())?;
    for folder in layout.folders() {
        disk.create_dir(&folder)?;
    }
    disk::write_new(disk, &layout.key(), key_text(key_seed).as_bytes())?;
    disk::write_new(disk, &layout.config(), config_text.as_bytes())?;
    disk::write_new(disk, &layout.lock(), b"")?;
    let written_log = WrittenLog {
        incarnation: 1,
        unsettled: None,
    };
    Mark::write(disk, &layout.mark(), hash_machine(machine_id), &written_log)?;
    disk::write_new(disk, &layout.format(), format!("{FORMAT_WORD} {FORMAT}\n").as_bytes())?;
    disk.sync_dir(&layout.inbox())?;
    disk.sync_dir(layout.path())
}
