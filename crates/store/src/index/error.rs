//! What can go wrong with the index.

use std::io;
use std::path::PathBuf;

/// What went wrong with the index.
#[derive(Debug, thiserror::Error)]
pub enum IndexError {
    /// It cannot be used any more: empty it with [`crate::Index::clear`] and apply the journal again.
    #[error("the index in {dir} is broken and has to be derived anew: {why}")]
    Broken {
        /// Its folder.
        dir: PathBuf,
        /// What was seen.
        why: String,
    },
    /// The disk refused. The index itself may be good.
    #[error("cannot use the index in {dir}: {source}")]
    Io {
        /// Its folder.
        dir: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The note of how far the index is cannot be written.
    #[error("cannot note how far the index in {dir} is: {why}")]
    Encode {
        /// Its folder.
        dir: PathBuf,
        /// What the encoder says.
        why: String,
    },
    /// A reader was asked to write.
    #[error("this is an index to read from")]
    Reader,
}
