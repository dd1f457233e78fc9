//! Later logs of a device.

use gladhand_facts::LogId;

/// The beginning of a later log of a device.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Incarnation {
    /// The log that it continues.
    pub after: LogId,
    /// The last entry of that log which this home certainly wrote, when it knew or suspected that another home continues it.
    pub at: Option<u64>,
    /// Where in the new log this is recorded.
    pub seq: u64,
}
