//! Which of two times is certainly the earlier one.
//!
//! Causality comes first ([`RecordedFact::happens_before`]). Times decide only between concurrent facts, and only when they are
//! certain. Two times of one clock compare as they stand, unless readings say that it was set between them. All others become
//! intervals by the depot's clock (see [`crate::clock_graph`]) and are decided only when the intervals do not touch.
//!
//! A time that the device filled in itself is the moment of recording. Everything its recorder had seen by then is earlier,
//! whatever the clocks say: setting a clock back in mid-shift reverses no order.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use gladhand_facts::{DeviceKey, LogId};
use gladhand_trade::Standard;
use gladhand_trade::standard::ClockLimits;

use crate::clock_graph::ClockGraph;
use crate::clock_reading::ClockReading;
use crate::interval::Interval;
use crate::recorded_fact::RecordedFact;
use crate::timed::{ClockName, Timed};

/// What can be said about the order of two times.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// The first is earlier beyond doubt.
    CertainlyBefore,
    /// The first is later beyond doubt.
    CertainlyAfter,
    /// The intervals touch, or nothing is known.
    Undecided,
}

/// What is known about the clocks.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Clocks {
    graph: ClockGraph,
    readings: Vec<ClockReading>,
    /// Per log, the depot's time at the readings in it that tell one. An entry that had seen such a reading was recorded after
    /// that time, whatever the device's clock showed.
    reading_times: BTreeMap<LogId, BTreeMap<u64, Interval>>,
}

impl Clocks {
    /// No depot and no offset is known: only times by one clock compare.
    pub fn unmeasured() -> Self {
        Self::default()
    }

    /// What the readings say, with the depot's clock as the measure.
    pub fn measured(depot: DeviceKey, limits: ClockLimits, readings: impl IntoIterator<Item = ClockReading>) -> Self {
        let mut readings: Vec<ClockReading> = readings.into_iter().collect();
        readings.sort_unstable();
        let mut reading_times: BTreeMap<LogId, BTreeMap<u64, Interval>> = BTreeMap::new();
        for reading in &readings {
            let time = if reading.device == depot {
                Interval::around(reading.at_us, 0)
            } else if reading.peer == depot {
                Interval::around(reading.there_us(), reading.half_us())
            } else {
                continue;
            };
            reading_times
                .entry(reading.place.log)
                .or_default()
                .insert(reading.place.seq, time);
        }
        Self {
            graph: ClockGraph::new(depot, limits, &readings),
            readings,
            reading_times,
        }
    }

    /// The readings, in order.
    pub fn readings(&self) -> &[ClockReading] {
        &self.readings
    }

    /// Whether this is the device whose clock is the measure of all others.
    pub fn is_measure(&self, device: &DeviceKey) -> bool {
        self.graph.root() == Some(*device)
    }

    /// A time as an interval by the depot's clock; `None` when no depot is known.
    pub fn interval(&self, timed: Timed) -> Option<Interval> {
        self.graph.interval(timed, Interval::ALWAYS)
    }

    /// When a fact happened, as an interval by the depot's clock; `None` when no depot is known. A time that is the moment of
    /// recording lies after the readings that the recorder had seen, whatever the clock showed. (It is not certainly before the
    /// next reading in its log, which was taken a little before it was written down.)
    pub fn interval_of(&self, recorded: &RecordedFact) -> Option<Interval> {
        let window = if recorded.is_timed_by_recording() {
            self.recorded_within(recorded)
        } else {
            Interval::ALWAYS
        };
        self.graph.interval(recorded.timed(), window)
    }

    fn recorded_within(&self, recorded: &RecordedFact) -> Interval {
        let own = recorded.place.log;
        let mut window = Interval::ALWAYS;
        for (log, reading_times) in &self.reading_times {
            let is_own = *log == own;
            if !is_own && !self.is_measure(&log.device) {
                continue;
            }
            let seen = if is_own {
                recorded.place.seq
            } else {
                recorded.seen.get(log)
            };
            if let Some((_, time)) = reading_times.range(..=seen).next_back() {
                window.from_us = window.from_us.max(time.from_us);
            }
        }
        window
    }

    /// A device's time by readings alone; `None` when no chain of them leads to the depot.
    pub fn measured_interval(&self, device: DeviceKey, at_us: i64) -> Option<Interval> {
        self.graph.measured(device, at_us)
    }

    /// When a reading was taken, by the depot's clock, without using the clock of `device`, which is one of its ends.
    pub fn taken(&self, device: DeviceKey, reading: &ClockReading) -> Option<Interval> {
        self.graph.taken(device, reading)
    }

    /// Whether two times were read from one clock, and no reading says that it was set between them.
    pub fn one_clock(&self, a: Timed, b: Timed) -> bool {
        let ran_through = match a.clock {
            ClockName::Reference => true,
            ClockName::Device(device) => self.graph.ran_through(device, a.at_us, b.at_us),
        };
        a.clock == b.clock && ran_through
    }

    /// The order of two times.
    pub fn order_times(&self, a: Timed, b: Timed) -> Order {
        if self.one_clock(a, b) {
            return match a.at_us.cmp(&b.at_us) {
                Ordering::Less => Order::CertainlyBefore,
                Ordering::Greater => Order::CertainlyAfter,
                Ordering::Equal => Order::Undecided,
            };
        }
        apart(self.interval(a), self.interval(b))
    }

    /// The order of a time and a fact.
    pub fn order_to_fact(&self, a: Timed, b: &RecordedFact) -> Order {
        if self.one_clock(a, b.timed()) {
            self.order_times(a, b.timed())
        } else {
            apart(self.interval(a), self.interval_of(b))
        }
    }

    /// How far the difference of two times, as they were read, may be off: nothing by one clock, otherwise as far as
    /// the ends of their intervals lie from the readings, or what the standard allows for unmeasured clocks.
    pub fn difference_uncertainty_us(&self, a: Timed, b: Timed, standard: &Standard) -> i64 {
        if self.one_clock(a, b) {
            return 0;
        }
        let bare = |timed: Timed| match timed.clock {
            ClockName::Reference => 0,
            ClockName::Device(_) => standard.clock().unmeasured_us,
        };
        // A clock that is surely an hour wrong has a narrow interval an hour away: the distance counts, not the width.
        let off = |at_us: i64, i: Interval| {
            let early = at_us.saturating_sub(i.from_us);
            early.max(i.to_us.saturating_sub(at_us))
        };
        let one = |timed: Timed| {
            self.interval(timed)
                .map_or_else(|| bare(timed), |i| off(timed.at_us, i))
        };
        one(a).saturating_add(one(b))
    }

    /// The order in which two facts happened. What was seen decides where the later one's time is the moment of its
    /// recording; a time that a person gave may lie before what was seen when it was written down.
    pub fn order(&self, a: &RecordedFact, b: &RecordedFact) -> Order {
        if b.is_timed_by_recording() && a.happens_before(b) {
            Order::CertainlyBefore
        } else if a.is_timed_by_recording() && b.happens_before(a) {
            Order::CertainlyAfter
        } else if self.one_clock(a.timed(), b.timed()) {
            self.order_times(a.timed(), b.timed())
        } else {
            apart(self.interval_of(a), self.interval_of(b))
        }
    }

    /// The contract's "before": seen before, or certainly earlier by the clocks.
    pub fn before(&self, a: &RecordedFact, b: &RecordedFact) -> bool {
        a.happens_before(b) || (a.place != b.place && self.order(a, b) == Order::CertainlyBefore)
    }

    /// Whether `b` came after `a`: it had seen it, or neither had seen the other and the clocks leave no doubt.
    pub fn follows(&self, b: &RecordedFact, a: &RecordedFact) -> bool {
        a.happens_before(b) || (a.concurrent(b) && self.order(a, b) == Order::CertainlyBefore)
    }
}

/// The order of two intervals: certain only when they do not touch.
fn apart(a: Option<Interval>, b: Option<Interval>) -> Order {
    match (a, b) {
        (Some(a), Some(b)) if a.to_us < b.from_us => Order::CertainlyBefore,
        (Some(a), Some(b)) if b.to_us < a.from_us => Order::CertainlyAfter,
        _ => Order::Undecided,
    }
}

#[cfg(test)]
#[path = "clocks_tests.rs"]
mod tests;
