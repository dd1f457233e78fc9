//! Why a home could not be opened.

use std::io;
use std::path::PathBuf;

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
    /// One of its files is damaged.
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
        /// The number of that process, if it could be read.
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
