//! Who did something, on which device, when.

use std::sync::Arc;

use gladhand_reconcile::RecordedFact;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::judging::JudgingContext;

/// Who did something, on which device, when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Deed {
    /// Who; null when the fact does not say.
    pub by: Option<String>,
    /// The name of the device that recorded it.
    pub device: String,
    /// When, as written (RFC 3339).
    pub at: String,
}

impl Deed {
    /// What a recorded fact says.
    pub fn of(judging: &JudgingContext<'_>, recorded: &RecordedFact) -> Self {
        Self {
            by: recorded.owned("by"),
            device: judging.names().device_name(&recorded.place.log.device),
            at: recorded.at().text().to_owned(),
        }
    }

    /// What several recorded facts say.
    pub fn all(judging: &JudgingContext<'_>, recorded: &[Arc<RecordedFact>]) -> Vec<Self> {
        recorded.iter().map(|fact| Self::of(judging, fact)).collect()
    }
}
