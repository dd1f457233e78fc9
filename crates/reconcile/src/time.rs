//! Which of two times is certainly the earlier one.
//!
//! Causality comes first ([`Witness::happens_before`]); only where it is silent do times speak, and only when
//! they leave no doubt. Two times by one clock compare as they stand. Times by different clocks stay undecided
//! here. Measured offsets will turn each time into an interval inside [`Clocks`]; the rules ask the same
//! question then and do not change.

use std::cmp::Ordering;

use gladhand_facts::DeviceKey;
use gladhand_trade::Standard;

use crate::witness::Witness;

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

/// What can be said about the order of two times.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// The first is earlier beyond doubt.
    CertainlyBefore,
    /// The first is later beyond doubt.
    CertainlyAfter,
    /// Nobody can tell.
    Undecided,
}

/// What is known about the clocks.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Clocks {
    _nothing_measured: (),
}

impl Clocks {
    /// No offset was ever measured: only times by one clock compare.
    pub fn unmeasured() -> Self {
        Self::default()
    }

    /// The order of two times.
    pub fn order_times(&self, a: Timed, b: Timed) -> Order {
        if a.clock != b.clock {
            return Order::Undecided;
        }
        match a.at_us.cmp(&b.at_us) {
            Ordering::Less => Order::CertainlyBefore,
            Ordering::Greater => Order::CertainlyAfter,
            Ordering::Equal => Order::Undecided,
        }
    }

    /// How far the difference of two times may be off: nothing by one clock, otherwise what the standard says of
    /// clocks that nobody has measured.
    pub fn difference_uncertainty_us(&self, a: Timed, b: Timed, standard: &Standard) -> i64 {
        if a.clock == b.clock {
            return 0;
        }
        let one = |timed: Timed| match timed.clock {
            ClockName::Reference => 0,
            ClockName::Device(_) => standard.clock().unmeasured_us,
        };
        one(a).saturating_add(one(b))
    }

    /// The order of two facts by their times alone.
    pub fn order(&self, a: &Witness, b: &Witness) -> Order {
        self.order_times(a.timed(), b.timed())
    }

    /// The contract's "before": seen before, or certainly earlier by the clocks.
    pub fn before(&self, a: &Witness, b: &Witness) -> bool {
        a.happens_before(b) || (a.place != b.place && self.order(a, b) == Order::CertainlyBefore)
    }
}
