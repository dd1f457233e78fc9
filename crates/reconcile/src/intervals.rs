//! From a device's clock to the depot's, as an interval.
//!
//! A reading says how far a peer's clock stood from the device's own at one moment, give or take half of the delay. Away from that
//! moment both clocks may have drifted, so the interval grows with the distance. Where a device never met the depot, the
//! way goes through others: the widths add up, and the narrowest way counts.
//!
//! Two readings of one pair that drift cannot explain mean that one of the clocks was set in between. Nobody knows when, and a
//! clock that was set back shows some times twice: a time gets the hull of all that the readings before and after may say of it
//! (see [`crate::track`]).
//!
//! A device that no chain of readings ties to the depot gets its bare time, as wide as the work standard says of unmeasured
//! clocks. A server's time (`clock: reference`) is taken to be within the standard's limit for a clock that is off.
//!
//! Deliberately absent: stamps, and any decision. [`crate::Clocks`] compares.

use std::collections::{BTreeMap, BTreeSet, btree_map::Entry};

use gladhand_facts::{DeviceKey, Place};
use gladhand_trade::standard::ClockLimits;

use crate::pair_readings::{PairReadings, Reading};
use crate::time::{ClockName, Timed};

/// How two clocks stood against each other, as a device measured it (RFC 5905 §8).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct ClockReading {
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

/// Times between which the true one lies, both included, in microseconds since 1970 by the depot's clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Interval {
    /// Not earlier than this.
    pub from_us: i64,
    /// Not later than this.
    pub to_us: i64,
}

impl Interval {
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

    /// All times that there are.
    pub(crate) const ALWAYS: Self = Self {
        from_us: i64::MIN,
        to_us: i64::MAX,
    };

    /// What both have in common; this one when they contradict each other.
    pub(crate) fn within(self, other: Self) -> Self {
        let both = Self {
            from_us: self.from_us.max(other.from_us),
            to_us: self.to_us.min(other.to_us),
        };
        if both.from_us <= both.to_us { both } else { self }
    }

    /// How far it reaches from end to end.
    pub fn width_us(&self) -> i64 {
        self.to_us.saturating_sub(self.from_us)
    }

    pub(crate) fn touches(&self, other: &Self) -> bool {
        self.from_us <= other.to_us && other.from_us <= self.to_us
    }
}

/// The readings as a web between devices.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct ClockGraph {
    root: Option<DeviceKey>,
    limits: Option<ClockLimits>,
    pairs: BTreeMap<DeviceKey, BTreeMap<DeviceKey, PairReadings>>,
}

/// A longer chain says nothing that is worth awareness.
const HOPS: usize = 4;

impl ClockGraph {
    pub(crate) fn new(root: DeviceKey, limits: ClockLimits, readings: &[ClockReading]) -> Self {
        let mut ends: BTreeMap<(DeviceKey, DeviceKey), Vec<Reading>> = BTreeMap::new();
        for r in readings {
            let (here, there) = (Reading::of(r), Reading::of(r).turned());
            ends.entry((r.device, r.peer)).or_default().push(here);
            ends.entry((r.peer, r.device)).or_default().push(there);
        }
        let mut pairs: BTreeMap<DeviceKey, BTreeMap<DeviceKey, PairReadings>> = BTreeMap::new();
        for ((from, to), ends) in ends {
            let pair = PairReadings::new(ends, to == root, i64::from(limits.drift_ppm));
            pairs.entry(from).or_default().insert(to, pair);
        }
        Self {
            root: Some(root),
            limits: Some(limits),
            pairs,
        }
    }

    /// The depot.
    pub(crate) fn root(&self) -> Option<DeviceKey> {
        self.root
    }

    /// The interval of a time by the depot's clock, of which is known that it lies within `window`; `None` when no depot is
    /// known.
    pub(crate) fn interval(&self, timed: Timed, window: Interval) -> Option<Interval> {
        let limits = self.limits.as_ref()?;
        let wide = match timed.clock {
            ClockName::Reference => Interval::around(timed.at_us, limits.off_us),
            ClockName::Device(device) => {
                let measured = self.narrowest(device, Interval::around(timed.at_us, 0), window);
                measured.unwrap_or_else(|| Interval::around(timed.at_us, limits.unmeasured_us))
            }
        };
        Some(wide.within(window))
    }

    /// The interval by readings alone; `None` when no chain leads to the depot.
    pub(crate) fn measured(&self, device: DeviceKey, at_us: i64) -> Option<Interval> {
        self.narrowest(device, Interval::around(at_us, 0), Interval::ALWAYS)
    }

    /// When a reading was taken, by the depot's clock: the way leads over the other end of it, so that the reading itself speaks
    /// and no other one about the same clock.
    pub(crate) fn taken(&self, device: DeviceKey, reading: &ClockReading) -> Option<Interval> {
        let (other, at_us) = if reading.device == device {
            (reading.peer, reading.there_us())
        } else {
            (reading.device, reading.at_us)
        };
        self.narrowest(other, Interval::around(at_us, reading.half_us()), Interval::ALWAYS)
    }

    /// Widths only grow on the way, so the narrowest interval that is not settled yet is the best one of its device.
    fn narrowest(&self, device: DeviceKey, time: Interval, window: Interval) -> Option<Interval> {
        let rank = |hops: usize, device: DeviceKey, i: Interval| (i.width_us(), i.from_us, hops, device);
        let mut open = BTreeSet::from([rank(0, device, time)]);
        let mut best = BTreeMap::from([(device, time)]);
        while let Some((width_us, from_us, hops, device)) = open.pop_first() {
            let to_us = from_us.saturating_add(width_us);
            let here = Interval { from_us, to_us };
            if Some(device) == self.root {
                return Some(here);
            }
            if hops == HOPS || best.get(&device) != Some(&here) {
                continue;
            }
            for (peer, track) in self.pairs.get(&device).into_iter().flatten() {
                let window = if Some(*peer) == self.root {
                    window
                } else {
                    Interval::ALWAYS
                };
                let Some(there) = track.cross(here, window) else {
                    continue;
                };
                let better = match best.entry(*peer) {
                    Entry::Vacant(free) => {
                        free.insert(there);
                        true
                    }
                    Entry::Occupied(mut known) if there.width_us() < known.get().width_us() => {
                        known.insert(there);
                        true
                    }
                    Entry::Occupied(_) => false,
                };
                if better {
                    open.insert(rank(hops + 1, *peer, there));
                }
            }
        }
        None
    }

    /// Whether nothing says that the device's clock was set between two of its times, so that they compare as they stand.
    pub(crate) fn ran_through(&self, device: DeviceKey, a_us: i64, b_us: i64) -> bool {
        if Some(device) == self.root {
            return true;
        }
        let pairs = self.pairs.get(&device).into_iter().flatten();
        pairs
            .filter(|(peer, _)| !self.is_known_to_be_set(peer))
            .all(|(_, track)| track.same_run(a_us, b_us))
    }

    /// Whether the depot saw that the clock of a device was set: contradicting readings against it may be its own fault.
    fn is_known_to_be_set(&self, device: &DeviceKey) -> bool {
        let by_depot = self.root.and_then(|root| self.pairs.get(device)?.get(&root));
        by_depot.is_some_and(PairReadings::was_set)
    }
}

#[cfg(test)]
#[path = "intervals_tests.rs"]
mod tests;
