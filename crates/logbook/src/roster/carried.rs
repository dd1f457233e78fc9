//! Bundles that were carried from one device to another, as their readers say.

use gladhand_facts::LogId;

/// A bundle was written by one clock and read by another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Carried {
    /// The log that its writer wrote.
    pub writer: LogId,
    /// The writer's last entry by then.
    pub head: u64,
    /// When it was written, by the writer's clock.
    pub written_us: i64,
    /// When it was read, by the reader's clock.
    pub read_us: i64,
}
