//! Converts a time of a device's clock to an interval by the depot's clock.
//!
//! A reading gives the offset between two clocks at one moment, wrong by at most half the delay. Away from that moment both
//! clocks may have drifted, so the interval grows with the distance. A device that never met the depot is converted through
//! other devices: the widths add up, and the narrowest path is used.
//!
//! Two readings of one pair that drift cannot explain mean that one of the clocks was set in between, at an unknown time. A
//! clock that was set back shows some times twice, so such a time becomes the hull of what the readings before and after allow
//! (see [`crate::pair_readings`]).
//!
//! A device that no chain of readings ties to the depot gets its bare time, as wide as the work standard allows for unmeasured
//! clocks. A server's time (`clock: reference`) is taken to be within the standard's limit for a clock that is off.
//!
//! A clock goes by the log whose device has it; logs that share one clock go by one name ([`crate::clock_names`]).
//!
//! Deliberately absent: stamps, what logs tell of themselves, and any decision. [`crate::clocks::Clocks`] compares.

use std::collections::{BTreeMap, BTreeSet, btree_map::Entry};

use gladhand_facts::LogId;
use gladhand_trade::standard::ClockLimits;

use crate::clock_names::ClockNames;
use crate::clock_reading::ClockReading;
use crate::interval::Interval;
use crate::pair_readings::{PairReadings, Reading};

/// The clocks as nodes, the readings between two of them as edges.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct ClockGraph {
    root: Option<LogId>,
    limits: Option<ClockLimits>,
    pairs: BTreeMap<LogId, BTreeMap<LogId, PairReadings>>,
}

/// Longer chains are ignored: their intervals are too wide to decide anything.
pub(crate) const HOPS: usize = 4;

impl ClockGraph {
    /// `root` is the depot's clock. A reading of a device of which copies are at work does not tell which of them was read.
    pub(crate) fn new(root: LogId, limits: ClockLimits, names: &ClockNames, readings: &[ClockReading]) -> Self {
        let mut ends: BTreeMap<(LogId, LogId), Vec<Reading>> = BTreeMap::new();
        for r in readings {
            let Some(peer) = names.of_device(r.peer) else { continue };
            let own = names.of_log(r.place.log);
            let (here, there) = (Reading::of(r), Reading::of(r).turned());
            ends.entry((own, peer)).or_default().push(here);
            ends.entry((peer, own)).or_default().push(there);
        }
        let mut pairs: BTreeMap<LogId, BTreeMap<LogId, PairReadings>> = BTreeMap::new();
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

    /// The depot's clock.
    pub(crate) fn root(&self) -> Option<LogId> {
        self.root
    }

    /// Per clock, its readings against others.
    pub(crate) fn pairs(&self) -> &BTreeMap<LogId, BTreeMap<LogId, PairReadings>> {
        &self.pairs
    }

    /// What is expected of clocks; `None` when no depot is known.
    pub(crate) fn limits(&self) -> Option<&ClockLimits> {
        self.limits.as_ref()
    }

    /// A time of a clock as an interval by the depot's. `window` is where it lies, as far as that is known: of the settings of a
    /// clock that was set, only those that fit there can have held. `None` when no chain leads to the depot.
    pub(crate) fn measured(&self, clock: LogId, at_us: i64, window: Interval) -> Option<Interval> {
        self.narrowest(clock, Interval::around(at_us, 0), window)
    }

    /// When a reading was taken, by the depot's clock. The path starts at the other end of the reading, so that no other reading
    /// of the same clock takes part in judging this one.
    pub(crate) fn taken(&self, names: &ClockNames, clock: LogId, reading: &ClockReading) -> Option<Interval> {
        let own = names.of_log(reading.place.log);
        let (other, at_us) = if own == clock {
            (names.of_device(reading.peer)?, reading.there_us())
        } else {
            (own, reading.at_us)
        };
        self.narrowest(other, Interval::around(at_us, reading.half_us()), Interval::ALWAYS)
    }

    /// Dijkstra's search with the interval's width as the distance: widths only grow along a path.
    fn narrowest(&self, device: LogId, time: Interval, window: Interval) -> Option<Interval> {
        let rank = |hops: usize, device: LogId, i: Interval| (i.width_us(), i.from_us, hops, device);
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
            for (peer, pair) in self.pairs.get(&device).into_iter().flatten() {
                let is_root = Some(*peer) == self.root;
                let window = if is_root { window } else { Interval::ALWAYS };
                let there = pair.cross(here, window);
                if let Some(there) = there.filter(|there| keep_narrower(&mut best, *peer, *there)) {
                    open.insert(rank(hops + 1, *peer, there));
                }
            }
        }
        None
    }

    /// Whether no reading says that the device's clock was set between two of its times, so that they compare as they stand.
    pub(crate) fn ran_through(&self, device: LogId, a_us: i64, b_us: i64) -> bool {
        if Some(device) == self.root {
            return true;
        }
        let pairs = self.pairs.get(&device).into_iter().flatten();
        pairs
            .filter(|(peer, _)| !self.is_known_to_be_set(peer))
            .all(|(_, pair)| pair.same_run(a_us, b_us))
    }

    /// Whether the depot saw that the clock of a device was set: contradicting readings against it may be its own fault.
    fn is_known_to_be_set(&self, device: &LogId) -> bool {
        let by_depot = self.root.and_then(|root| self.pairs.get(device)?.get(&root));
        by_depot.is_some_and(PairReadings::was_set)
    }
}

/// Keeps `found` as the best interval of `device` if it is narrower than the one known, and says whether it is.
fn keep_narrower(best: &mut BTreeMap<LogId, Interval>, device: LogId, found: Interval) -> bool {
    match best.entry(device) {
        Entry::Vacant(free) => {
            free.insert(found);
            true
        }
        Entry::Occupied(mut known) => {
            let is_narrower = found.width_us() < known.get().width_us();
            if is_narrower {
                known.insert(found);
            }
            is_narrower
        }
    }
}

#[cfg(test)]
#[path = "clock_graph_tests.rs"]
mod tests;
