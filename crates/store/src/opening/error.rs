//! Why a journal could not be opened.

use std::io;
use std::path::PathBuf;

/// Why a journal could not be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// Written by a later version of this program.
    #[error("{file} has layout {found}; this program knows layouts up to {known}: use a newer one")]
    TooNew {
        /// The segment.
        file: PathBuf,
        /// Its layout.
        found: u32,
        /// The newest that is known here.
        known: u32,
    },
    /// The disk refused.
    #[error("cannot read the journal at {file}: {source}")]
    Io {
        /// What was touched.
        file: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// Damage was found, and the repair could not be written. Nothing was changed.
    #[error("{file} is damaged and cannot be repaired now: {source}")]
    Repair {
        /// The segment.
        file: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}
