//! The version that every answer carries.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Goes up when a key of any answer changes its meaning or disappears. New keys do not count.
pub const VERSION: u32 = 1;

/// An answer with its version, flat: `{"version": 1, …}`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Versioned<T> {
    /// [`VERSION`] of the program that answered.
    pub version: u32,
    /// The answer.
    #[serde(flatten)]
    pub answer: T,
}

impl<T> Versioned<T> {
    /// The answer with the version of this program.
    pub fn new(answer: T) -> Self {
        Self {
            version: VERSION,
            answer,
        }
    }
}
