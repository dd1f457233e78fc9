//! What is where in a home. Only names: nothing is opened or locked.

use std::io;
use std::path::{Path, PathBuf};

/// The names in a home.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Layout {
    path: PathBuf,
}

impl Layout {
    /// The layout of the home at `path`.
    pub fn new(path: &Path) -> Self {
        Self {
            path: path.to_path_buf(),
        }
    }

    /// The home itself.
    pub fn path(&self) -> &Path {
        &self.path
    }

    pub(crate) fn format(&self) -> PathBuf {
        self.path.join("format")
    }

    pub(crate) fn lock(&self) -> PathBuf {
        self.path.join("lock")
    }

    pub(crate) fn key(&self) -> PathBuf {
        self.path.join("key")
    }

    /// Where the home is and which log it writes; see `mark.rs`.
    pub fn mark(&self) -> PathBuf {
        self.path.join("mark")
    }

    /// The configuration file.
    pub fn config(&self) -> PathBuf {
        self.path.join("config.toml")
    }

    /// The text of the configuration. Needs no lock.
    pub fn config_text(&self) -> io::Result<String> {
        std::fs::read_to_string(self.config())
    }

    /// The journal.
    pub fn log(&self) -> PathBuf {
        self.path.join("log")
    }

    /// The derived index.
    pub fn index(&self) -> PathBuf {
        self.path.join("index")
    }

    /// Copies of what was damaged.
    pub fn evidence(&self) -> PathBuf {
        self.path.join("evidence")
    }

    /// Pictures by hash.
    pub fn pictures(&self) -> PathBuf {
        self.path.join("pictures")
    }

    /// Where people and programs drop files.
    pub fn inbox(&self) -> PathBuf {
        self.path.join("inbox")
    }

    /// Files from the inbox that were recorded.
    pub fn inbox_done(&self) -> PathBuf {
        self.inbox().join("done")
    }

    /// Lines from the inbox that were not taken.
    pub fn inbox_rejected(&self) -> PathBuf {
        self.inbox().join("rejected")
    }

    /// All folders, outer ones first.
    pub(crate) fn folders(&self) -> Vec<PathBuf> {
        vec![
            self.log(),
            self.index(),
            self.evidence(),
            self.pictures(),
            self.inbox(),
            self.inbox_done(),
            self.inbox_rejected(),
        ]
    }
}
