//! Hybrid logical clock (Kulkarni et al., 2014): wall time where it can, a counter where it must.
//!
//! A stamp orders entries for display and never decides a finding: happens-before comes from what a device
//! had seen ([`crate::VersionVector`]), not from stamps. A foreign stamp too far ahead of our own wall clock
//! is refused by [`Stamp::merge`], so that one laptop set to next year cannot drag the others along.

use serde::{Deserialize, Serialize};

/// How far a foreign stamp may run ahead of our wall clock before it is ignored: five minutes.
pub const MAX_AHEAD_US: i64 = 5 * 60 * 1_000_000;

/// A hybrid logical clock reading. Ordered by `wall_us`, then `counter`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
pub struct Stamp {
    /// Microseconds since 1970-01-01T00:00:00Z: the largest wall time seen so far.
    pub wall_us: i64,
    /// Tells apart what happened within one `wall_us`.
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

    /// The stamp of receiving `foreign` at wall time `now_us`.
    ///
    /// # Errors
    /// [`ClockError::TooFarAhead`] when `foreign` is more than `bound_us` ahead of `now_us`; the caller then
    /// goes on with [`Stamp::tick`].
    pub fn merge(self, foreign: Self, now_us: i64, bound_us: i64) -> Result<Self, ClockError> {
        let ahead_us = foreign.wall_us.saturating_sub(now_us);
        if ahead_us > bound_us {
            return Err(ClockError::TooFarAhead { ahead_us, bound_us });
        }
        let latest = self.max(foreign);
        Ok(latest.tick(now_us))
    }

    /// The wall clock of the device that made the stamp, where the stamp shows it: with a counter the wall part may
    /// be another device's, or an older time of its own. (A full counter, which only a forger reaches, shows it wrongly.)
    pub fn own_wall_us(self) -> Option<i64> {
        (self.counter == 0).then_some(self.wall_us)
    }

    fn bump(self) -> Self {
        match self.counter.checked_add(1) {
            Some(counter) => Self { counter, ..self },
            // Four thousand million events in one microsecond do not happen; a forged counter does.
            None => Self {
                wall_us: self.wall_us.saturating_add(1),
                counter: 0,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn s(wall_us: i64, counter: u32) -> Stamp {
        Stamp { wall_us, counter }
    }

    /// The rule of Kulkarni et al. 2014, Fig. 5, with the values of shared/TRADE.md §6.
    #[test]
    fn message_receipt_follows_figure_5() {
        let from = s(20, 4);
        for (foreign, now_us, want) in [
            (s(20, 7), 20, s(20, 8)),
            (s(19, 99), 5, s(20, 5)),
            (s(25, 2), 24, s(25, 3)),
            (s(25, 9), 30, s(30, 0)),
        ] {
            assert_eq!(from.merge(foreign, now_us, 1_000), Ok(want), "{foreign:?} at {now_us}");
        }
    }

    #[test]
    fn a_clock_set_back_does_not_turn_time_around() {
        let mut stamp = Stamp::default();
        let got: Vec<_> = [100, 40, 100, 101]
            .into_iter()
            .map(|now_us| {
                stamp = stamp.tick(now_us);
                stamp
            })
            .collect();
        assert_eq!(got, [s(100, 0), s(100, 1), s(100, 2), s(101, 0)]);
    }

    #[test]
    fn a_stamp_shows_its_makers_clock_only_without_a_counter() {
        assert_eq!(s(20, 4).tick(30).own_wall_us(), Some(30));
        assert_eq!(
            s(20, 4).tick(19).own_wall_us(),
            None,
            "its clock said 19, the stamp says 20"
        );
        assert_eq!(
            s(20, 4).merge(s(25, 0), 24, 10).unwrap().own_wall_us(),
            None,
            "25 is the other's clock"
        );
        assert_eq!(s(20, 4).merge(s(25, 0), 26, 10).unwrap().own_wall_us(), Some(26));
    }

    #[test]
    fn a_foreign_clock_cannot_push_ours_beyond_the_bound() {
        let own = s(1_000, 0);
        assert_eq!(
            own.merge(s(2_000_000, 0), 1_000, 500),
            Err(ClockError::TooFarAhead {
                ahead_us: 1_999_000,
                bound_us: 500
            })
        );
        assert_eq!(s(5, u32::MAX).tick(3), s(6, 0), "a full counter moves the wall part on");
    }
}
