//! The whole store read back.

use gladhand_node::{Node, NodeError, Progress};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What reading everything back found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Verified {
    /// Entries that were read and chained.
    pub entries: u64,
    /// Signatures that were checked.
    pub signatures: u64,
    /// Pictures that were read and hashed.
    pub pictures: u64,
    /// What is wrong; empty when everything fits.
    pub wrong: Vec<Wrong>,
}

/// One thing that is not as it should be.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Wrong {
    /// Where it is: a file of the home, a log's entry, a picture.
    pub place: String,
    /// What is wrong there, in words.
    pub what: String,
}

/// Reads everything back. Changes nothing.
///
/// # Errors
/// When the disk cannot be read at all.
pub fn verified(node: &Node, progress: &dyn Progress) -> Result<Verified, NodeError> {
    let done = node.verify(progress)?;
    let wrong = done.wrong.into_iter().map(|w| Wrong {
        place: w.place,
        what: w.what,
    });
    Ok(Verified {
        entries: done.entries,
        signatures: done.signatures,
        pictures: done.pictures,
        wrong: wrong.collect(),
    })
}

#[cfg(test)]
#[path = "verified_tests.rs"]
mod tests;
