//! Who did something, on which device, when.

use gladhand_reconcile::RecordedFact;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::judging::JudgingContext;

/// Who did something, on which device, when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Deed {
    /// Who, if the fact says so.
    pub by: Option<String>,
    /// The name of the device that recorded it.
    pub device: String,
    /// When, RFC 3339, as the fact says it.
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
}
