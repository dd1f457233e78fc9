//! Where the index is: in the home, or somewhere else.
//!
//! An index that cannot be written where it belongs, because the disk is full or takes no writes, is made anew somewhere else, so that
//! questions are answered all the same. It goes when the node is closed.
//!
//! Deliberately not durable, and never preferred: the next open tries the home again.

use std::path::{Path, PathBuf};

use gladhand_store::{Index, IndexError, Journal};

use crate::environment::Environment;
use crate::error::NodeError;

/// The version of the index's content. An index with another number is made anew.
pub(crate) const INDEX_SCHEMA: u32 = 8;

/// A folder that is removed with this.
pub(crate) struct Elsewhere(PathBuf);

impl Drop for Elsewhere {
    fn drop(&mut self) {
        // What remains is in a folder that the system clears.
        std::fs::remove_dir_all(&self.0).ok();
    }
}

impl Elsewhere {
    /// A new folder where this process can write.
    pub(crate) fn make(chance: u32) -> std::io::Result<Self> {
        use std::os::unix::fs::DirBuilderExt;
        let name = format!("gladhand-index-{}-{chance:08x}", std::process::id());
        let mut failed = std::io::Error::from(std::io::ErrorKind::StorageFull);
        for folder in [std::env::temp_dir(), PathBuf::from("/dev/shm")] {
            let path = folder.join(&name);
            match std::fs::DirBuilder::new().mode(0o700).create(&path) {
                Ok(()) => return Ok(Self(path)),
                Err(error) => failed = error,
            }
        }
        Err(failed)
    }

    pub(crate) fn path(&self) -> &Path {
        &self.0
    }
}

/// Whether another disk may take what this one refused.
pub(crate) fn is_refused(error: &NodeError) -> bool {
    matches!(error, NodeError::Index(IndexError::Io { .. }))
}

/// An empty index that was begun somewhere else.
pub(crate) struct BegunElsewhere {
    pub(crate) index: Index,
    pub(crate) elsewhere: Elsewhere,
    /// What to tell about it.
    pub(crate) note: String,
}

/// Begins an index somewhere else; `why` is what the home's disk said. `None`: nowhere is there room.
///
/// # Errors
/// When the other place refuses too.
pub(crate) fn begin_elsewhere(
    environment: &Environment,
    journal: &Journal,
    why: &dyn std::fmt::Display,
) -> Result<Option<BegunElsewhere>, NodeError> {
    let chance = u32::from_le_bytes(environment.random::<4>()?);
    let Ok(elsewhere) = Elsewhere::make(chance) else {
        return Ok(None);
    };
    let dir = elsewhere.path();
    let (index, _) = Index::open(&dir.join("index"), &dir.join("evidence"), journal, INDEX_SCHEMA)?;
    let note = format!(
        "{why}; until there is room, the index is made anew in {} at each start",
        dir.display()
    );
    Ok(Some(BegunElsewhere { index, elsewhere, note }))
}
