//! The system's word that something has come into the inbox.

use std::ffi::OsString;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use std::sync::mpsc::Sender;

use notify::event::{EventKind, ModifyKind, RenameMode};
use notify::{Event, RecommendedWatcher, RecursiveMode, Watcher};

/// What the inbox's thread is told.
#[derive(Debug)]
pub enum Nudge {
    /// A file was renamed into place.
    Arrived(OsString),
    /// A file was made or written to.
    Changed(OsString),
    /// Something was missed.
    Look,
    /// End.
    Stop,
}

/// A watch on one folder.
pub struct Watch {
    dir: PathBuf,
    folder: Option<(u64, u64)>,
    _watcher: RecommendedWatcher,
}

impl Watch {
    /// Watches `dir` and sends what happens there.
    ///
    /// # Errors
    /// When the system has no watch to give.
    pub fn start(dir: &Path, nudge: Sender<Nudge>) -> notify::Result<Self> {
        let folder = identity(dir);
        let watched = dir.to_path_buf();
        let tell = move |event: notify::Result<Event>| {
            // Fails only when the inbox has ended.
            nudges(&watched, event).into_iter().for_each(|n| drop(nudge.send(n)));
        };
        let mut watcher = notify::recommended_watcher(tell)?;
        watcher.watch(dir, RecursiveMode::NonRecursive)?;
        Ok(Self {
            dir: dir.to_path_buf(),
            folder,
            _watcher: watcher,
        })
    }

    /// Whether the folder is still the one that is watched: it may have been moved away and made anew.
    pub fn is_good(&self) -> bool {
        self.folder.is_some() && identity(&self.dir) == self.folder
    }
}

fn identity(dir: &Path) -> Option<(u64, u64)> {
    std::fs::metadata(dir).ok().map(|meta| (meta.dev(), meta.ino()))
}

fn nudges(dir: &Path, event: notify::Result<Event>) -> Vec<Nudge> {
    let Ok(event) = event else { return vec![Nudge::Look] };
    if event.need_rescan() {
        return vec![Nudge::Look];
    }
    if event.paths.iter().any(|path| path == dir) {
        // Something about the folder itself: it may be gone. Not our own looking at it, though.
        return if event.kind.is_access() {
            Vec::new()
        } else {
            vec![Nudge::Look]
        };
    }
    let to_nudge: fn(OsString) -> Nudge = match event.kind {
        EventKind::Modify(ModifyKind::Name(RenameMode::To | RenameMode::Both)) => Nudge::Arrived,
        EventKind::Modify(ModifyKind::Name(RenameMode::From)) | EventKind::Access(_) | EventKind::Remove(_) => {
            return Vec::new();
        }
        _ => Nudge::Changed,
    };
    // Of a rename within the folder the new name counts, which stands last.
    let name = event.paths.last().filter(|path| path.parent() == Some(dir));
    name.and_then(|path| path.file_name())
        .map(|name| to_nudge(name.to_owned()))
        .into_iter()
        .collect()
}
