//! Hybrid logical clock (Kulkarni et al., 2014): wall time, and a counter where wall time does not advance.
//!
//! A stamp orders entries for display and never decides a finding: happens-before comes from what a device
//! had seen ([`crate::VersionVector`]), not from stamps. A foreign stamp too far ahead of our own wall clock
//! is refused by [`Stamp::merge`], so that one laptop set to next year cannot drag the others along.
//!
//! The paper's rule for receiving a message is `merge`, then `tick`. They are two steps here because a device merges the
//! stamps of everything it holds and ticks only when it writes.

use serde::{Deserialize, Serialize};

/// How far a foreign stamp may run ahead of our wall clock before it is ignored: five minutes.
pub const MAX_AHEAD_US: i64 = 5 * 60 * 1_000_000;

/// A hybrid logical clock reading. Ordered by `wall_us`, then `counter`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
pub struct Stamp {
    /// Microseconds since 1970-01-01T00:00:00Z: the largest wall time seen so far.
    pub wall_us: i64,
    /// Orders the events of one `wall_us`.
    pub counter: u32,
}

/// Why a foreign stamp was not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum ClockError {
    /// The stamp is further ahead of our wall clock than the bound allows.
    #[error("a foreign clock is {ahead_us} µs ahead of ours, more than the bound of {bound_us} µs")]
    TooFarAhead {
        /// How far ahead it was.
        ahead_us: i64,
        /// What was allowed.
        bound_us: i64,
    },
}

impl Stamp {
    /// The stamp of a local event at wall time `now_us`, after `self`.
    pub fn tick(self, now_us: i64) -> Self {
        if now_us > self.wall_us {
            Self {
                wall_us: now_us,
                counter: 0,
            }
        } else {
            self.bump()
        }
    }

    /// The later of `self` and `foreign`: what the next [`Stamp::tick`] must exceed.
    ///
    /// # Errors
    /// [`ClockError::TooFarAhead`] when `foreign` is more than `bound_us` ahead of the wall time `now_us`; the caller
    /// then keeps `self`.
    pub fn merge(self, foreign: Self, now_us: i64, bound_us: i64) -> Result<Self, ClockError> {
        let ahead_us = foreign.wall_us.saturating_sub(now_us);
        if ahead_us > bound_us {
            return Err(ClockError::TooFarAhead { ahead_us, bound_us });
        }
        Ok(self.max(foreign))
    }

    /// The wall clock of the device that made the stamp, where the stamp shows it: with a counter, the wall part may
    /// be another device's, or an older time of its own. (When a counter overflows, which only a forged one does, the wall
    /// part is not a reading either, and this is wrong.)
    pub fn own_wall_us(self) -> Option<i64> {
        (self.counter == 0).then_some(self.wall_us)
    }

    fn bump(self) -> Self {
        match self.counter.checked_add(1) {
            Some(counter) => Self { counter, ..self },
            // No device has four thousand million events in one microsecond; a stamp with a forged counter may arrive.
            None => Self {
                wall_us: self.wall_us.saturating_add(1),
                counter: 0,
            },
        }
    }
}

#[cfg(test)]
#[path = "stamp_tests.rs"]
mod tests;
