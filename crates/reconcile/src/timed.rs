//! A time together with the clock it was read from. Times of different clocks cannot be compared as they stand; see
//! [`crate::clocks`].

use gladhand_facts::DeviceKey;

/// A clock by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ClockName {
    /// The clock of a device.
    Device(DeviceKey),
    /// The clock of the server that answers for the trackers.
    Reference,
}

/// A time and the clock that it was read from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Timed {
    /// The clock.
    pub clock: ClockName,
    /// Microseconds since 1970-01-01T00:00:00Z by that clock.
    pub at_us: i64,
}
