//! Measured differences between the clocks of two devices.

use gladhand_facts::DeviceKey;

/// The difference between the clocks of two devices, as one of them measured it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClockReading {
    /// Who measured.
    pub device: DeviceKey,
    /// Whose clock it was measured against.
    pub peer: DeviceKey,
    /// The peer's clock minus the device's, in microseconds, give or take half of `delay_us`.
    pub offset_us: i64,
    /// How long question and answer took together on the network, in microseconds.
    pub delay_us: i64,
    /// When, by the device's clock.
    pub at_us: i64,
}
