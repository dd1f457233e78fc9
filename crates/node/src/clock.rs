//! Clock readings: an offset from four timestamps of a contact, and when a reading is worth an entry.
//!
//! T1 is our clock when the probe was sent, T2 the peer's when it was received, T3 the peer's when the answer was sent, T4 ours
//! when that was received. RFC 5905 §8: the peer's clock is ahead by θ = ((T2−T1)+(T3−T4))/2, wrong by at most half of
//! δ = (T4−T1)−(T3−T2), however unequal the two ways were. All times in microseconds since 1970.
//!
//! Deliberately absent: setting any clock. A reading is only recorded; the rules use it to compare times of two devices.
//!
//! Invariant: a reading is recorded at most every [`AT_MOST_EVERY_US`], and only when it says something new, because idle
//! daemons must not grow the history for ever.

use gladhand_facts::DeviceKey;
use gladhand_logbook::roster::ClockReading;

/// Between two recorded readings of one pair of devices: half an hour.
pub const AT_MOST_EVERY_US: i64 = 30 * 60 * 1_000_000;
/// After half a day a reading is worth recording again, whatever it says: drift has widened the last one.
pub const AT_LEAST_EVERY_US: i64 = 12 * 3600 * 1_000_000;
/// How much two undisciplined clocks may drift apart: 100 parts in a million (8.64 s a day).
const DRIFT_PPM: i64 = 100;
/// A delay shorter by this much is worth recording, when it is also a quarter of the last one.
const CLEARER_BY_US: i64 = 100_000;
/// By how much our wall clock may have moved against a monotonic clock during a reading.
const STEP_US: i64 = 20_000;

/// The four timestamps of a contact.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Contact {
    /// Our clock when the probe was sent.
    pub t1_us: i64,
    /// The peer's clock when the probe was received.
    pub t2_us: i64,
    /// The peer's clock when the answer was sent.
    pub t3_us: i64,
    /// Our clock when the answer was received.
    pub t4_us: i64,
}

impl Contact {
    /// θ: the peer's clock minus ours.
    pub fn offset_us(&self) -> i64 {
        let way_out = i128::from(self.t2_us) - i128::from(self.t1_us);
        let way_back = i128::from(self.t3_us) - i128::from(self.t4_us);
        i64::try_from((way_out + way_back).div_euclid(2)).unwrap_or(if way_out < 0 { i64::MIN } else { i64::MAX })
    }

    /// δ: how long probe and answer were in transit.
    pub fn delay_us(&self) -> i64 {
        let there = i128::from(self.t4_us) - i128::from(self.t1_us);
        let held = i128::from(self.t3_us) - i128::from(self.t2_us);
        i64::try_from(there - held).unwrap_or(i64::MAX)
    }

    /// The reading, if the timestamps can be true: nothing took negative time, and our clock was not set meanwhile
    /// (`steady_us` is the time between T1 and T4 on a monotonic clock).
    pub fn reading(&self, device: DeviceKey, peer: DeviceKey, steady_us: i64) -> Option<ClockReading> {
        let passed = self.t4_us.checked_sub(self.t1_us)?;
        let held = self.t3_us.checked_sub(self.t2_us)?;
        let steady = passed.checked_sub(steady_us)?.checked_abs()? <= STEP_US;
        let delay_us = self.delay_us();
        let true_times = steady && held >= 0 && delay_us >= 0;
        true_times.then(|| ClockReading {
            device,
            peer,
            offset_us: self.offset_us(),
            delay_us,
            at_us: self.t4_us,
        })
    }
}

/// Whether `new` is worth an entry after `last`.
pub fn is_news(last: Option<&ClockReading>, new: &ClockReading) -> bool {
    let Some(last) = last else { return true };
    let age_us = new.at_us.saturating_sub(last.at_us);
    if (0..AT_MOST_EVERY_US).contains(&age_us) {
        return false;
    }
    // A last reading from the future means that our clock was set back: that is news.
    if !(0..AT_LEAST_EVERY_US).contains(&age_us) {
        return true;
    }
    let allowed = last.delay_us / 2 + new.delay_us / 2 + age_us / 1_000_000 * DRIFT_PPM;
    let moved = new.offset_us.saturating_sub(last.offset_us).saturating_abs() > allowed;
    let clearer = new.delay_us < last.delay_us / 4 && last.delay_us.saturating_sub(new.delay_us) > CLEARER_BY_US;
    moved || clearer
}

#[cfg(test)]
mod tests {
    use super::*;

    const A: DeviceKey = DeviceKey([1; 32]);
    const B: DeviceKey = DeviceKey([2; 32]);

    /// A worked example: the formula of RFC 5905 §8, figures of the project's own.
    #[test]
    fn the_worked_example() {
        let contact = Contact {
            t1_us: 100_000_000,
            t2_us: 105_120_000,
            t3_us: 105_170_000,
            t4_us: 100_250_000,
        };
        assert_eq!((contact.offset_us(), contact.delay_us()), (5_020_000, 200_000));
        let reading = contact.reading(A, B, 250_000).unwrap();
        assert!(
            (reading.offset_us - 5_000_000).abs() <= reading.delay_us / 2,
            "the true offset is 5 s"
        );
    }

    /// RFC 5905 §8: the offset is wrong by at most half of the delay, however the delay is split between the two ways, and by
    /// nothing when they are equally long. Over steps of half a second to five, offsets up to ten years.
    #[test]
    fn the_offset_is_wrong_by_at_most_half_of_the_delay() {
        let ways = [0i64, 1, 500_000, 2_500_001, 5_000_000];
        let offsets = [0i64, 1, -7_200_000_000, 315_360_000_000_000, -315_360_000_000_000];
        for (out_us, back_us) in ways.iter().flat_map(|out| ways.map(|back| (*out, back))) {
            for (offset_us, held_us) in offsets.iter().flat_map(|o| [0i64, 50_000].map(|held| (*o, held))) {
                let t1_us = 1_772_438_400_000_000;
                let came_us = t1_us + out_us;
                let contact = Contact {
                    t1_us,
                    t2_us: came_us + offset_us,
                    t3_us: came_us + held_us + offset_us,
                    t4_us: came_us + held_us + back_us,
                };
                assert_eq!(contact.delay_us(), out_us + back_us);
                let wrong_us = (contact.offset_us() - offset_us).abs();
                // Half a microsecond may be lost to whole numbers; a reading's interval is a microsecond wider for it.
                assert!(2 * wrong_us <= contact.delay_us() + 1, "{contact:?} {wrong_us}");
                assert!(out_us != back_us || wrong_us == 0, "{contact:?} {wrong_us}");
            }
        }
    }

    #[test]
    fn times_that_cannot_be_true_give_no_reading() {
        let good = Contact {
            t1_us: 0,
            t2_us: 10,
            t3_us: 20,
            t4_us: 40,
        };
        assert!(good.reading(A, B, 40).is_some());
        assert!(
            Contact { t3_us: 5, ..good }.reading(A, B, 40).is_none(),
            "answered before asked"
        );
        assert!(
            Contact { t3_us: 100, ..good }.reading(A, B, 40).is_none(),
            "held longer than it took"
        );
        assert!(
            good.reading(A, B, 3_600_000_000).is_none(),
            "our clock was set back meanwhile"
        );
        let absurd = Contact {
            t1_us: i64::MIN,
            t2_us: i64::MAX,
            t3_us: i64::MAX,
            t4_us: i64::MAX,
        };
        assert!(absurd.reading(A, B, 0).is_none());
    }

    #[test]
    fn idle_daemons_do_not_grow_history_for_ever() {
        let reading = |at_s: i64, offset_ms: i64, delay_ms: i64| ClockReading {
            device: A,
            peer: B,
            offset_us: offset_ms * 1_000,
            delay_us: delay_ms * 1_000,
            at_us: at_s * 1_000_000,
        };
        let first = reading(0, 5_000, 10);
        assert!(is_news(None, &first));
        assert!(
            !is_news(Some(&first), &reading(60, 90_000, 10)),
            "too soon, whatever it says"
        );
        assert!(
            !is_news(Some(&first), &reading(3_600, 5_100, 10)),
            "within drift and uncertainty"
        );
        assert!(is_news(Some(&first), &reading(3_600, 6_000, 10)), "the clock was set");
        assert!(
            is_news(Some(&first), &reading(13 * 3_600, 5_000, 10)),
            "the old one has faded"
        );
        assert!(
            is_news(Some(&first), &reading(-3_600, 5_000, 10)),
            "our own clock was set back"
        );
        assert!(
            is_news(Some(&reading(0, 5_000, 2_000)), &reading(3_600, 5_000, 10)),
            "much clearer"
        );
        // A day of contacts every half minute.
        let (mut last, mut entries) = (None, 0);
        for at_s in (0..86_400).step_by(30) {
            let new = reading(at_s, 5_000 + at_s / 100, 10);
            if is_news(last.as_ref(), &new) {
                (last, entries) = (Some(new), entries + 1);
            }
        }
        assert!(entries <= 2, "{entries}");
    }
}
