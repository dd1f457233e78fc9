//! From a device's clock to the depot's, as an interval.
//!
//! A reading says how far a peer's clock stood from the device's own at one moment, give or take half of the delay. Away from that
//! moment both clocks may have drifted, so the interval grows with the distance. Where a device never met the depot, the
//! way goes through others: the widths add up, and the narrowest way counts.
//!
//! Two readings of one pair that drift cannot explain mean that one of the clocks was set in between. Nobody knows when, so a
//! time between them gets the hull of what both readings say.
//!
//! A device that no chain of readings ties to the depot gets its bare time, as wide as the work standard says of unmeasured
//! clocks. A server's time (`clock: reference`) is taken to be within the standard's limit for a clock that is off.
//!
//! Deliberately absent: stamps, and any decision. [`crate::Clocks`] compares.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::{DeviceKey, Place};
use gladhand_trade::standard::ClockLimits;

use crate::time::{ClockName, Timed};

/// How two clocks stood against each other, as a device measured it (RFC 5905 §8).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Reading {
    /// Who measured.
    pub device: DeviceKey,
    /// Whose clock was measured.
    pub peer: DeviceKey,
    /// When, by the clock of `device`, in microseconds since 1970.
    pub at_us: i64,
    /// The clock of `peer` minus the clock of `device`.
    pub offset_us: i64,
    /// How long question and answer were under way; the offset is wrong by at most half of it.
    pub delay_us: i64,
    /// Where it is recorded.
    pub place: Place,
}

/// Times between which the true one lies, both included, in microseconds since 1970 by the depot's clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Interval {
    /// Not earlier than this.
    pub from_us: i64,
    /// Not later than this.
    pub to_us: i64,
}

impl Interval {
    fn around(at_us: i64, half_us: i64) -> Self {
        Self {
            from_us: at_us.saturating_sub(half_us),
            to_us: at_us.saturating_add(half_us),
        }
    }

    fn widened(self, half_us: i64) -> Self {
        Self {
            from_us: self.from_us.saturating_sub(half_us),
            to_us: self.to_us.saturating_add(half_us),
        }
    }

    fn hull(self, other: Self) -> Self {
        Self {
            from_us: self.from_us.min(other.from_us),
            to_us: self.to_us.max(other.to_us),
        }
    }

    /// How far it reaches from end to end.
    pub fn width_us(&self) -> i64 {
        self.to_us.saturating_sub(self.from_us)
    }

    fn touches(&self, other: &Self) -> bool {
        self.from_us <= other.to_us && other.from_us <= self.to_us
    }
}

/// One end of a reading, seen from one of its two devices.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Leg {
    at_us: i64,
    offset_us: i64,
    half_us: i64,
}

/// The readings as a web between devices.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Web {
    root: Option<DeviceKey>,
    limits: Option<ClockLimits>,
    legs: BTreeMap<DeviceKey, BTreeMap<DeviceKey, Vec<Leg>>>,
}

/// A longer chain says nothing that is worth knowing.
const HOPS: usize = 4;

impl Web {
    pub(crate) fn new(root: DeviceKey, limits: ClockLimits, readings: &[Reading]) -> Self {
        let mut web = Self {
            root: Some(root),
            limits: Some(limits),
            legs: BTreeMap::new(),
        };
        for r in readings {
            let half_us = r.delay_us.max(0) / 2 + 1;
            web.add(
                r.device,
                r.peer,
                Leg {
                    at_us: r.at_us,
                    offset_us: r.offset_us,
                    half_us,
                },
            );
            let there_us = r.at_us.saturating_add(r.offset_us);
            web.add(
                r.peer,
                r.device,
                Leg {
                    at_us: there_us,
                    offset_us: r.offset_us.saturating_neg(),
                    half_us,
                },
            );
        }
        let all = web.legs.values_mut().flat_map(BTreeMap::values_mut);
        all.for_each(|legs| legs.sort_unstable());
        web
    }

    fn add(&mut self, from: DeviceKey, to: DeviceKey, leg: Leg) {
        self.legs.entry(from).or_default().entry(to).or_default().push(leg);
    }

    /// The interval of a time by the depot's clock; `None` when no depot is known.
    pub(crate) fn interval(&self, timed: Timed) -> Option<Interval> {
        let limits = self.limits.as_ref()?;
        match timed.clock {
            ClockName::Reference => Some(Interval::around(timed.at_us, limits.off_us)),
            ClockName::Device(device) => {
                let measured = self.measured(device, timed.at_us);
                Some(measured.unwrap_or_else(|| Interval::around(timed.at_us, limits.unmeasured_us)))
            }
        }
    }

    /// The interval by readings alone; `None` when no chain leads to the depot.
    pub(crate) fn measured(&self, device: DeviceKey, at_us: i64) -> Option<Interval> {
        self.walk(device, Interval::around(at_us, 0), &mut BTreeSet::new())
    }

    fn walk(&self, device: DeviceKey, time: Interval, on_the_way: &mut BTreeSet<DeviceKey>) -> Option<Interval> {
        if Some(device) == self.root {
            return Some(time);
        }
        if on_the_way.len() >= HOPS || !on_the_way.insert(device) {
            return None;
        }
        let peers = self.legs.get(&device).into_iter().flatten();
        let ways = peers.filter_map(|(peer, legs)| self.walk(*peer, self.cross(legs, time)?, on_the_way));
        let narrowest = ways.min_by_key(|i| (i.width_us(), i.from_us));
        on_the_way.remove(&device);
        narrowest
    }

    /// A time by the peer's clock: by the reading before it and the one after it, or the hull of both if they contradict
    /// each other.
    fn cross(&self, legs: &[Leg], time: Interval) -> Option<Interval> {
        let middle_us = time.from_us.saturating_add(time.width_us() / 2);
        let after = legs.partition_point(|leg| leg.at_us <= middle_us);
        let before = after
            .checked_sub(1)
            .and_then(|i| legs.get(i))
            .map(|leg| self.by(leg, time));
        let after = legs.get(after).map(|leg| self.by(leg, time));
        match (before, after) {
            (Some(a), Some(b)) if a.touches(&b) => Some(if a.width_us() <= b.width_us() { a } else { b }),
            (Some(a), Some(b)) => Some(a.hull(b)),
            (one, other) => one.or(other),
        }
    }

    fn by(&self, leg: &Leg, time: Interval) -> Interval {
        let drift_ppm = self.limits.as_ref().map_or(0, |l| i128::from(l.drift_ppm));
        let far = |us: i64| i128::from(us).abs_diff(i128::from(leg.at_us));
        let distance = i128::try_from(far(time.from_us).max(far(time.to_us))).unwrap_or(i128::MAX);
        let drift_us = i64::try_from(distance.saturating_mul(drift_ppm) / 1_000_000).unwrap_or(i64::MAX);
        let moved = Interval {
            from_us: time.from_us.saturating_add(leg.offset_us),
            to_us: time.to_us.saturating_add(leg.offset_us),
        };
        moved.widened(leg.half_us.saturating_add(drift_us))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use gladhand_facts::LogId;
    use proptest::prelude::*;

    const S: i64 = 1_000_000;

    fn device(n: u8) -> DeviceKey {
        DeviceKey([n; 32])
    }

    fn reading(from: u8, to: u8, at_s: i64, offset_s: i64, delay_us: i64) -> Reading {
        let place = Place {
            log: LogId {
                device: device(from),
                incarnation: 1,
            },
            seq: 1,
            index: 0,
        };
        let (device, peer) = (device(from), device(to));
        Reading {
            device,
            peer,
            at_us: at_s * S,
            offset_us: offset_s * S,
            delay_us,
            place,
        }
    }

    fn limits() -> ClockLimits {
        ClockLimits {
            off_us: 120 * S,
            drift_ppm: 100,
            unmeasured_us: 86_400 * S,
        }
    }

    fn web(readings: &[Reading]) -> Web {
        Web::new(device(1), limits(), readings)
    }

    /// Drift: 100 ppm is 8.64 s a day (shared/TRADE.md §6).
    #[test]
    fn a_day_away_from_its_reading_a_time_is_as_uncertain_as_the_drift_allows() {
        let web = web(&[reading(2, 1, 0, 3600, 200_000)]);
        let got = web.measured(device(2), 86_400 * S).unwrap();
        let middle_us = (86_400 + 3600) * S;
        assert_eq!(got.width_us(), 2 * (8_640_000 + 100_001));
        assert_eq!(got.from_us + got.width_us() / 2, middle_us);
    }

    #[test]
    fn a_chain_adds_up_and_the_narrowest_way_counts() {
        let long = [reading(3, 2, 0, -60, 1_000_000), reading(2, 1, 0, 10, 1_000_000)];
        let chained = web(&long).measured(device(3), 0).unwrap();
        assert!(chained.from_us <= -50 * S && chained.to_us >= -50 * S);
        assert!(chained.width_us() > 2 * S);
        let mut both = long.to_vec();
        both.push(reading(1, 3, -50, 50, 10_000));
        let direct = web(&both).measured(device(3), 0).unwrap();
        assert!(direct.width_us() < chained.width_us() && direct.from_us <= -50 * S && direct.to_us >= -50 * S);
        assert_eq!(
            web(&[reading(3, 2, 0, 1, 1)]).measured(device(3), 0),
            None,
            "no way leads to the depot"
        );
    }

    #[test]
    fn between_contradicting_readings_the_hull_counts() {
        let web = web(&[reading(2, 1, 0, 0, 1_000), reading(2, 1, 1_000, 500, 1_000)]);
        let got = web.measured(device(2), 400 * S).unwrap();
        assert!(got.from_us <= 400 * S && got.to_us >= 900 * S, "{got:?}");
        let after = web.measured(device(2), 1_100 * S).unwrap();
        assert!(after.from_us > 1_599 * S && after.to_us < 1_601 * S, "{after:?}");
    }

    #[test]
    fn bare_times_are_as_wide_as_the_standard_says() {
        let web = web(&[]);
        let bare = web
            .interval(Timed {
                clock: ClockName::Device(device(9)),
                at_us: 0,
            })
            .unwrap();
        assert_eq!(bare.width_us(), 2 * 86_400 * S);
        let server = web
            .interval(Timed {
                clock: ClockName::Reference,
                at_us: 0,
            })
            .unwrap();
        assert_eq!(server.width_us(), 240 * S);
    }

    proptest! {
        /// The true time by the depot's clock is always inside: clocks of any offset that drift within the allowance, readings with
        /// any split of their delay, chains through a peer.
        #[test]
        fn the_truth_is_inside(
            offset_s in -4_000_000_000i64..4_000_000_000, peer_offset_s in -1_000_000i64..1_000_000,
            drift_ppm in -45i64..45, delay_us in 0i64..5_000_000, split in 0.0f64..1.0, read_s in 0i64..200_000, event_s in 0i64..200_000,
        ) {
            // Device 3 drifts and is read against device 2, which is steady; device 2 is read against the depot.
            let own = |true_us: i64| true_us + offset_s * S + true_us / 1_000_000 * drift_ppm;
            let skew_us = ((split - 0.5) * delay_us as f64) as i64;
            let t = read_s * S;
            let mut a = reading(3, 2, 0, 0, delay_us);
            (a.at_us, a.offset_us) = (own(t), t + peer_offset_s * S - own(t) + skew_us);
            let b = reading(2, 1, read_s + peer_offset_s, -peer_offset_s, 0);
            let got = web(&[a, b]).measured(device(3), own(event_s * S)).unwrap();
            prop_assert!(got.from_us <= event_s * S && event_s * S <= got.to_us, "{got:?} misses {}", event_s * S);
        }
    }
}
