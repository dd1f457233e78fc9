//! What the visits of a device tell of its clock where no network measures it: sticks that were carried, and clocks read off by hand.
//!
//! A bundle that the depot wrote and the device read says that the depot's clock had passed one time when the device's showed another;
//! one that went the other way says that it had not reached it yet. Each bounds the clock on one side. Together they are as good as
//! a reading whose delay is the time that the sticks took.
//!
//! A time is bounded from below by the visits before it, and from above by those after it, each carried over by what the clock
//! counted in between, give or take drift. So a clock that was set back in between only widens it. One that was set forward makes the
//! two sides contradict each other: then neither says anything, and only what the depot's entries enclose is left. For the same reason
//! one side alone says nothing: nobody could tell.
//!
//! Assumption: a clock is not set forward by less than the sticks leave open between two visits. Nothing can show that.
//!
//! Deliberately absent: visits between two devices of which neither is the depot; what was seen encloses these.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::measure::{Dimension, Exact, Measure};
use gladhand_facts::{DeviceKey, Fact, Kind, LogId, Place};
use gladhand_trade::standard::ClockLimits;
use serde::{Deserialize, Serialize};

use crate::clock_names::ClockNames;
use crate::interval::Interval;
use crate::timed::ClockName;

/// A bundle that was carried from one device to another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Trip {
    /// The reader's entry that says so.
    pub place: Place,
    /// The reader's clock when it was read.
    pub read_us: i64,
    /// The log that the writer wrote.
    pub writer: LogId,
    /// The writer's last entry by then.
    pub head: u64,
    /// The writer's clock when it was written.
    pub written_us: i64,
}

/// A clock that somebody trusts, read off beside a device's.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct HandReading {
    /// The fact that says so.
    pub place: Place,
    /// What the device's clock showed.
    pub shown_us: i64,
    /// What the other clock showed.
    pub reference_us: i64,
    /// How far that may be off; `None`: as far as the work standard allows a clock to be.
    pub uncertainty_us: Option<i64>,
}

impl HandReading {
    /// What a `clock` fact says; `None` for another fact, and where it cannot be read or no program read the device's clock.
    pub fn of_fact(fact: &Fact, place: Place) -> Option<Self> {
        let by_device = ClockName::of_fact(fact, place.log) == ClockName::Device(place.log);
        if fact.kind() != &Kind::Clock || !by_device {
            return None;
        }
        let uncertainty_us = match fact.get("uncertainty").filter(|value| !value.is_null()) {
            Some(_) => Some(microseconds(&fact.measure("uncertainty")?)?),
            None => None,
        };
        Some(Self {
            place,
            shown_us: fact.at()?.unix_us(),
            reference_us: fact.moment("reference")?.unix_us(),
            uncertainty_us,
        })
    }

    /// How far the other clock may be from the depot's.
    pub(crate) fn half_us(&self, limits: &ClockLimits) -> i64 {
        self.uncertainty_us
            .unwrap_or(limits.off_us)
            .saturating_add(limits.off_us)
    }
}

/// A length of time; `None` for another measure, and for less than nothing.
fn microseconds(measure: &Measure) -> Option<i64> {
    let seconds = measure.base();
    let millionths = seconds.numer().checked_mul(1_000_000)?;
    let us = i64::try_from(Exact::new(millionths, *seconds.denom()).ceil().to_integer()).ok()?;
    (measure.dimension() == Dimension::Time && us >= 0).then_some(us)
}

/// At most so many visits on either side are looked at: older ones have faded.
const MOST: usize = 8;

/// A bound of the depot's time at a place of a log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Bound {
    /// The last entry that was not later.
    at: (LogId, u64),
    shown_us: i64,
    depot_us: i64,
}

/// The bounds on one side.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct Bounds {
    /// In the order of the log.
    by_entry: Vec<Bound>,
    /// In the order of what the clock showed.
    by_clock: Vec<Bound>,
}

impl Bounds {
    fn push(&mut self, at: (LogId, u64), shown_us: i64, depot_us: i64) {
        self.by_entry.push(Bound { at, shown_us, depot_us });
    }

    fn sort(&mut self) {
        self.by_entry.sort_unstable();
        self.by_clock.clone_from(&self.by_entry);
        self.by_clock.sort_unstable_by_key(|bound| (bound.shown_us, *bound));
    }

    /// Those before a time that the clock showed when the entry was written, the nearest first; without an entry, by the clock.
    fn past(&self, shown_us: i64, entry: Option<(LogId, u64)>) -> impl Iterator<Item = &Bound> {
        let (list, end) = match entry {
            Some(entry) => (&self.by_entry, self.by_entry.partition_point(|bound| bound.at <= entry)),
            None => (
                &self.by_clock,
                self.by_clock.partition_point(|bound| bound.shown_us <= shown_us),
            ),
        };
        list.get(..end).unwrap_or_default().iter().rev()
    }

    /// Those after it, the nearest first.
    fn to_come(&self, shown_us: i64, entry: Option<(LogId, u64)>) -> impl Iterator<Item = &Bound> {
        let (list, start) = match entry {
            Some(entry) => (&self.by_entry, self.by_entry.partition_point(|bound| bound.at < entry)),
            None => (
                &self.by_clock,
                self.by_clock.partition_point(|bound| bound.shown_us < shown_us),
            ),
        };
        list.get(start..).unwrap_or_default().iter()
    }
}

#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct OneClock {
    /// The depot's clock had passed these.
    after: Bounds,
    /// The depot's clock had not yet reached these.
    before: Bounds,
}

/// The visits of all clocks.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Visits {
    clocks: BTreeMap<LogId, OneClock>,
    drift_ppm: i64,
}

impl Visits {
    pub(crate) fn new(
        depot: DeviceKey,
        limits: &ClockLimits,
        names: &ClockNames,
        trips: &[Trip],
        by_hand: &[HandReading],
    ) -> Self {
        let mut clocks: BTreeMap<LogId, OneClock> = BTreeMap::new();
        for trip in trips {
            let reader = trip.place.log;
            if reader.device == depot {
                let clock = clocks.entry(names.of_log(trip.writer)).or_default();
                clock
                    .before
                    .push((trip.writer, trip.head), trip.written_us, trip.read_us);
            } else if trip.writer.device == depot {
                let clock = clocks.entry(names.of_log(reader)).or_default();
                clock
                    .after
                    .push((reader, trip.place.seq), trip.read_us, trip.written_us);
            }
        }
        for reading in by_hand {
            let clock = clocks.entry(names.of_log(reading.place.log)).or_default();
            let held = Interval::around(reading.reference_us, reading.half_us(limits));
            let at = (reading.place.log, reading.place.seq);
            clock.after.push(at, reading.shown_us, held.from_us);
            clock.before.push(at, reading.shown_us, held.to_us);
        }
        for clock in clocks.values_mut() {
            clock.after.sort();
            clock.before.sort();
        }
        Self {
            clocks,
            drift_ppm: i64::from(limits.drift_ppm),
        }
    }

    /// The clocks of which other visits are known than `before`.
    pub(crate) fn changed_since(&self, before: &Self) -> BTreeSet<LogId> {
        let clocks = self.clocks.keys().chain(before.clocks.keys());
        clocks
            .filter(|clock| self.clocks.get(clock) != before.clocks.get(clock))
            .copied()
            .collect()
    }

    /// Where a time of a clock lies by its visits, that of an entry if it was read when that was written; anywhere when there are none on both sides, or when these contradict each other.
    pub(crate) fn interval(&self, clock: LogId, shown_us: i64, entry: Option<(LogId, u64)>) -> Interval {
        let Some(visits) = self.clocks.get(&clock) else {
            return Interval::ALWAYS;
        };
        let past = visits.after.past(shown_us, entry).take(MOST);
        let to_come = visits.before.to_come(shown_us, entry).take(MOST);
        narrowed(
            past.map(|bound| self.low(bound, shown_us)),
            to_come.map(|bound| self.high(bound, shown_us)),
        )
    }

    /// The clock counted from the visit on, at most so much too fast. One that shows less than then was set back.
    fn low(&self, bound: &Bound, shown_us: i64) -> i64 {
        let passed_us = shown_us.saturating_sub(bound.shown_us).max(0);
        let counted_us = passed_us.saturating_sub(self.drift(passed_us));
        bound.depot_us.saturating_add(counted_us)
    }

    fn high(&self, bound: &Bound, shown_us: i64) -> i64 {
        let to_pass_us = bound.shown_us.saturating_sub(shown_us).max(0);
        let counted_us = to_pass_us.saturating_sub(self.drift(to_pass_us));
        bound.depot_us.saturating_sub(counted_us)
    }

    fn drift(&self, passed_us: i64) -> i64 {
        let us = i128::from(passed_us).saturating_mul(i128::from(self.drift_ppm)) / 1_000_000;
        // A microsecond for what division cuts off.
        i64::try_from(us).unwrap_or(i64::MAX).saturating_add(1)
    }
}

/// The nearest visits on both sides first. Farther ones narrow it as long as they agree: beyond that the clock had been set.
fn narrowed(mut lows: impl Iterator<Item = i64>, mut highs: impl Iterator<Item = i64>) -> Interval {
    let (Some(from_us), Some(to_us)) = (lows.next(), highs.next()) else {
        return Interval::ALWAYS;
    };
    if from_us > to_us {
        return Interval::ALWAYS;
    }
    let mut found = Interval { from_us, to_us };
    for low_us in lows.take_while(|low_us| *low_us <= found.to_us) {
        found.from_us = found.from_us.max(low_us);
    }
    for high_us in highs.take_while(|high_us| *high_us >= found.from_us) {
        found.to_us = found.to_us.min(high_us);
    }
    found
}

#[cfg(test)]
#[path = "sticks_tests.rs"]
mod tests;
