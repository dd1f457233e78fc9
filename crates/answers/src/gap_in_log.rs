//! A gap in a log, and what waits behind it.

use gladhand_node::OpenGap;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Entries of a log that a damaged disk has lost, and those behind them that wait for them to come back.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct GapInLog {
    /// The log (`KEY.INCARNATION`).
    pub log: String,
    /// The name of the device that wrote it.
    pub name: String,
    /// The number of the first entry that is missing.
    pub from: u64,
    /// How many are missing.
    pub missing: u64,
    /// How many entries wait behind them on the disk.
    pub waiting: u64,
    /// All this in words, with what to do.
    pub words: String,
}

pub(crate) fn gap_in_log(open: &OpenGap) -> GapInLog {
    GapInLog {
        log: open.gap.log.to_string(),
        name: open.name.clone(),
        from: open.gap.from,
        missing: open.gap.missing(),
        waiting: open.gap.waiting,
        words: open.words(),
    }
}
