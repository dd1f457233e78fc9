//! Governance as JSON.

use serde::Serialize;

/// Why governance cannot be written as JSON.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum JsonError {
    /// The serializer refused.
    #[error("{what} cannot be written as JSON: {why}")]
    Write {
        /// What was to be written.
        what: &'static str,
        /// What the serializer says.
        why: String,
    },
}

pub(crate) fn write(what: &'static str, value: &impl Serialize) -> Result<Vec<u8>, JsonError> {
    serde_json::to_vec(value).map_err(|e| JsonError::Write {
        what,
        why: e.to_string(),
    })
}
