//! An interval of times: the true time lies in it.

use serde::{Deserialize, Serialize};

/// Times between which the true one lies, both included, in microseconds since 1970 by the depot's clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Interval {
    /// Not earlier than this.
    pub from_us: i64,
    /// Not later than this.
    pub to_us: i64,
}

impl Interval {
    /// Every time there is: nothing is known.
    pub(crate) const ALWAYS: Self = Self {
        from_us: i64::MIN,
        to_us: i64::MAX,
    };

    pub(crate) fn around(at_us: i64, half_us: i64) -> Self {
        Self {
            from_us: at_us.saturating_sub(half_us),
            to_us: at_us.saturating_add(half_us),
        }
    }

    pub(crate) fn moved(self, by_us: i64) -> Self {
        Self {
            from_us: self.from_us.saturating_add(by_us),
            to_us: self.to_us.saturating_add(by_us),
        }
    }

    pub(crate) fn widened(self, half_us: i64) -> Self {
        Self {
            from_us: self.from_us.saturating_sub(half_us),
            to_us: self.to_us.saturating_add(half_us),
        }
    }

    pub(crate) fn hull(self, other: Self) -> Self {
        Self {
            from_us: self.from_us.min(other.from_us),
            to_us: self.to_us.max(other.to_us),
        }
    }

    /// What both say: the intersection. Where they contradict each other nobody can tell which is wrong, so the hull.
    pub(crate) fn and(self, other: Self) -> Self {
        if self.touches(&other) {
            Self {
                from_us: self.from_us.max(other.from_us),
                to_us: self.to_us.min(other.to_us),
            }
        } else {
            self.hull(other)
        }
    }

    /// Whether it ends on both sides.
    pub fn is_closed(&self) -> bool {
        self.from_us > i64::MIN && self.to_us < i64::MAX
    }

    /// The time in its middle.
    pub(crate) fn middle_us(&self) -> i64 {
        self.from_us.midpoint(self.to_us)
    }

    /// The distance between its ends.
    pub fn width_us(&self) -> i64 {
        self.to_us.saturating_sub(self.from_us)
    }

    pub(crate) fn touches(&self, other: &Self) -> bool {
        self.from_us <= other.to_us && other.from_us <= self.to_us
    }
}
