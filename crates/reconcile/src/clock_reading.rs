//! One measurement of how two devices' clocks stood against each other.

use gladhand_facts::{DeviceKey, Place};

/// A reading is written down within this time of being taken; one that had to wait longer is not recorded.
pub const WRITTEN_WITHIN_US: i64 = 5 * 60 * 1_000_000;

/// How two clocks stood against each other, as a device measured it (RFC 5905 §8).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct ClockReading {
    /// The device that measured.
    pub device: DeviceKey,
    /// The device whose clock was measured.
    pub peer: DeviceKey,
    /// When, by the clock of `device`, in microseconds since 1970.
    pub at_us: i64,
    /// The clock of `peer` minus the clock of `device`.
    pub offset_us: i64,
    /// The round-trip time of the measurement; the offset is wrong by at most half of it.
    pub delay_us: i64,
    /// Where it is recorded.
    pub place: Place,
}

impl ClockReading {
    /// When it was taken by the clock of `peer`, as far as the reading can tell.
    pub fn there_us(&self) -> i64 {
        self.at_us.saturating_add(self.offset_us)
    }

    /// By how much the offset may be wrong.
    pub fn half_us(&self) -> i64 {
        self.delay_us.max(0) / 2 + 1
    }
}
