//! Which of two times is certainly the earlier one.
//!
//! Causality comes first ([`RecordedFact::happens_before`]): whoever recorded a fact after having seen another cannot put it before
//! that one by a device's clock or by word. Only a server's time that is certain wins over what was seen. Between concurrent facts
//! times decide, when they are certain. Two times of one clock compare as they stand, unless readings or the log itself say that
//! it was set between them. All others become intervals by the depot's clock and are decided only when the intervals do not touch.
//!
//! The interval of a fact is what all of these have in common, or their hull where they contradict each other:
//! - its time by the readings (see `clock_graph`), or as wide as an unmeasured clock may be off;
//! - the visits before and after it where sticks were carried (`visits`);
//! - the contacts in its own log before and after it, when its time is the moment of recording (`contacts`);
//! - what the depot's entries enclose ([`LogTimes`]);
//! - what a person says: not after the moment of recording, and nothing else.

mod changes;

use std::cmp::Ordering;

use gladhand_facts::{DeviceKey, LogId};
use gladhand_trade::Standard;
use gladhand_trade::standard::ClockLimits;

use crate::clock_graph::ClockGraph;
use crate::clock_names::ClockNames;
use crate::clock_reading::ClockReading;
use crate::contacts::Contacts;
use crate::interval::Interval;
use crate::log_times::LogTimes;
use crate::oddity::Oddity;
use crate::recorded_fact::RecordedFact;
use crate::sticks::{HandReading, Trip, Visits};
use crate::stretch::Stretch;
use crate::timed::{ClockName, Timed};

pub use changes::ClockChanges;

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
    depot: Option<DeviceKey>,
    graph: ClockGraph,
    names: ClockNames,
    readings: Vec<ClockReading>,
    contacts: Contacts,
    visits: Visits,
    logs: LogTimes,
    stretches: Vec<Stretch>,
}

/// A time by the depot's clock, as far as the readings tell.
struct Known {
    /// Where the clock simply ran.
    at: Interval,
    /// Where it may have been set, by no more than an unmeasured clock may be off.
    wide: Interval,
}

/// A time that a program read within this time of recording it was read at the moment of recording.
const AT_ONCE_US: i64 = 60_000_000;

impl Clocks {
    /// No depot and no offset is known: only times by one clock compare.
    pub fn unmeasured() -> Self {
        Self::default()
    }

    /// What the readings say, with the depot's clock as the measure.
    pub fn measured(depot: DeviceKey, limits: ClockLimits, readings: impl IntoIterator<Item = ClockReading>) -> Self {
        Self::of_logs(depot, limits, readings, LogTimes::default())
    }

    /// What the readings and the logs themselves say, with the depot's clock as the measure.
    pub fn of_logs(
        depot: DeviceKey,
        limits: ClockLimits,
        readings: impl IntoIterator<Item = ClockReading>,
        mut logs: LogTimes,
    ) -> Self {
        let mut readings: Vec<ClockReading> = readings.into_iter().collect();
        readings.sort_unstable();
        let names = ClockNames::new(Some(depot), &logs.forks);
        let contacts = Contacts::new(depot, &readings, &logs.trips);
        logs.add_oddities_of_visits(depot, &limits);
        let root = LogId {
            device: depot,
            incarnation: 1,
        };
        Self {
            depot: Some(depot),
            visits: Visits::new(depot, &limits, &names, &logs.trips, &logs.by_hand),
            graph: ClockGraph::new(names.of_log(root), limits, &names, &readings),
            stretches: Stretch::all(&logs.oddities, &contacts),
            names,
            readings,
            contacts,
            logs,
        }
    }

    /// All that was measured, apart from the readings: when it changes, the times of many facts change.
    pub fn measures(&self) -> (&[Trip], &[HandReading], &[Stretch]) {
        (&self.logs.trips, &self.logs.by_hand, &self.stretches)
    }

    /// The readings, in order.
    pub fn readings(&self) -> &[ClockReading] {
        &self.readings
    }

    /// What is odd about entries, sorted.
    pub fn oddities(&self) -> &[Oddity] {
        &self.logs.oddities
    }

    /// Whether this is the device whose clock is the measure of all others.
    pub fn is_measure(&self, device: &DeviceKey) -> bool {
        self.depot == Some(*device)
    }

    /// A time as an interval by the depot's clock; `None` when no depot is known.
    pub fn interval(&self, timed: Timed) -> Option<Interval> {
        let limits = self.graph.limits()?;
        Some(match timed.clock {
            ClockName::Reference => Interval::around(timed.at_us, limits.off_us),
            ClockName::Person(_) => Interval::ALWAYS,
            ClockName::Device(log) => self.read_from(log, timed.at_us, Interval::ALWAYS, limits),
        })
    }

    /// When a fact happened, as an interval by the depot's clock; `None` when no depot is known.
    pub fn interval_of(&self, recorded: &RecordedFact) -> Option<Interval> {
        let limits = self.graph.limits()?;
        let timed = recorded.timed();
        match (timed.clock, lag_us(recorded)) {
            (ClockName::Reference, _) => self.interval(timed),
            (ClockName::Person(_), _) => Some(Interval {
                from_us: i64::MIN,
                to_us: self.recorded_at(recorded, recorded.stamp.wall_us, 0, limits).to_us,
            }),
            (ClockName::Device(_), Some(lag_us)) => Some(self.recorded_at(recorded, timed.at_us, lag_us, limits)),
            (ClockName::Device(log), None) => {
                let window = Interval {
                    from_us: i64::MIN,
                    ..self.window(recorded)
                };
                Some(self.read_from(log, timed.at_us, window, limits).and(window))
            }
        }
    }

    /// The moment of recording, or `lag_us` before it: the clock showed `shown_us`.
    fn recorded_at(&self, recorded: &RecordedFact, shown_us: i64, lag_us: i64, limits: &ClockLimits) -> Interval {
        let (log, seq) = (recorded.place.log, recorded.place.seq);
        if self.is_measure(&log.device) {
            return Interval::around(shown_us, 0);
        }
        let mut window = self.window(recorded);
        if window.from_us > i64::MIN {
            window.from_us = window.from_us.saturating_sub(lag_us);
        }
        let known = self.known(log, shown_us, Some(seq), window, limits);
        let stretch = self.stretches.iter().find(|s| s.covers(log, seq));
        let possible = stretch.map_or(known.at, |s| s.possible(known.wide));
        possible.and(window)
    }

    /// A time that the clock of `log` showed at some time within `window`.
    fn read_from(&self, log: LogId, at_us: i64, window: Interval, limits: &ClockLimits) -> Interval {
        let known = self.known(log, at_us, None, window, limits);
        if self.is_measure(&log.device) {
            return known.at;
        }
        let shown = Interval::around(at_us, 0);
        let doubts = self.stretches_of(log).filter(|s| s.may_have_shown(shown));
        doubts.map(|s| s.possible(known.wide)).fold(known.at, Interval::hull)
    }

    fn known(&self, log: LogId, at_us: i64, seq: Option<u64>, window: Interval, limits: &ClockLimits) -> Known {
        let bare = Interval::around(at_us, limits.unmeasured_us);
        let measured = self.measured_within(log, at_us, seq, window);
        Known {
            at: measured.unwrap_or(bare),
            wide: measured.map_or(bare, |at| at.widened(limits.unmeasured_us)),
        }
    }

    fn stretches_of(&self, log: LogId) -> impl Iterator<Item = &Stretch> {
        let clock = self.names.of_log(log);
        self.stretches.iter().filter(move |s| self.names.of_log(s.log) == clock)
    }

    /// Between which times of the depot a fact was recorded, whatever the clock of its device showed.
    fn window(&self, recorded: &RecordedFact) -> Interval {
        let place = &recorded.place;
        if self.is_measure(&place.log.device) {
            return Interval::ALWAYS;
        }
        let by_entries = self.logs.enclosing(place, &recorded.seen);
        let contacts = self
            .depot
            .map(|depot| self.contacts.enclosing(place, &recorded.seen, depot));
        contacts.map_or(by_entries, |contacts| contacts.and(by_entries))
    }

    /// A time by readings and visits alone; `None` when neither ties the device to the depot.
    pub fn measured_interval(&self, log: LogId, at_us: i64) -> Option<Interval> {
        self.measured_within(log, at_us, None, Interval::ALWAYS)
    }

    fn measured_within(&self, log: LogId, at_us: i64, seq: Option<u64>, window: Interval) -> Option<Interval> {
        let clock = self.names.of_log(log);
        let by_visits = self.visits.interval(clock, at_us, seq.map(|seq| (log, seq)));
        match self.graph.measured(clock, at_us, window) {
            Some(measured) => Some(measured.and(by_visits)),
            None => Some(by_visits).filter(Interval::is_closed),
        }
    }

    /// When a reading was taken, by the depot's clock, without using the clock of `device`, which is one of its ends.
    pub fn taken(&self, device: DeviceKey, reading: &ClockReading) -> Option<Interval> {
        let clock = if reading.device == device {
            self.names.of_log(reading.place.log)
        } else {
            self.names.of_device(device)?
        };
        self.graph.taken(&self.names, clock, reading)
    }

    /// Whether two times were read from one clock, and nothing says that it was set between them.
    pub fn one_clock(&self, a: Timed, b: Timed) -> bool {
        match (a.clock, b.clock) {
            (ClockName::Reference, ClockName::Reference) => true,
            (ClockName::Device(one), ClockName::Device(other)) => {
                self.names.of_log(one) == self.names.of_log(other) && self.ran_through(one, a.at_us, b.at_us)
            }
            _ => false,
        }
    }

    /// Whether neither contacts nor entries show that the clock of a log was set between two times that it showed.
    pub(crate) fn ran_through(&self, log: LogId, a_us: i64, b_us: i64) -> bool {
        let shown = Interval {
            from_us: a_us.min(b_us),
            to_us: a_us.max(b_us),
        };
        let is_measure = self.is_measure(&log.device);
        let doubted = !is_measure && self.stretches_of(log).any(|s| s.may_have_shown(shown));
        !doubted && self.graph.ran_through(self.names.of_log(log), a_us, b_us)
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

    /// How far the difference of two times, as they were read or said, may be off: nothing by one clock, otherwise as far as
    /// the ends of their intervals lie from the readings, or what the standard allows for unmeasured clocks.
    pub fn difference_uncertainty_us(&self, a: Timed, b: Timed, standard: &Standard) -> i64 {
        let (a, b) = (a.as_if_read(), b.as_if_read());
        if self.one_clock(a, b) {
            return 0;
        }
        let bare = |timed: Timed| match timed.clock {
            ClockName::Reference => 0,
            ClockName::Device(_) | ClockName::Person(_) => standard.clock().unmeasured_us,
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

    /// The order in which two facts happened. What was seen decides, unless one of the times is a server's and certain.
    pub fn order(&self, a: &RecordedFact, b: &RecordedFact) -> Order {
        let by_time = || self.order_by_time(a, b);
        let has_reference = [a, b].iter().any(|w| w.clock() == ClockName::Reference);
        let certain = Some(has_reference).filter(|has| *has).map(|_| by_time());
        match certain {
            Some(order @ (Order::CertainlyBefore | Order::CertainlyAfter)) => order,
            _ if a.happens_before(b) => Order::CertainlyBefore,
            _ if b.happens_before(a) => Order::CertainlyAfter,
            _ => by_time(),
        }
    }

    /// The order of the times of two facts, whoever had seen what.
    fn order_by_time(&self, a: &RecordedFact, b: &RecordedFact) -> Order {
        if self.one_clock(a.timed(), b.timed()) {
            self.order_times(a.timed(), b.timed())
        } else {
            apart(self.interval_of(a), self.interval_of(b))
        }
    }

    /// Whether `b` came after `a`: it had seen it, or neither had seen the other and the clocks leave no doubt.
    pub fn follows(&self, b: &RecordedFact, a: &RecordedFact) -> bool {
        a.place != b.place && self.order(a, b) == Order::CertainlyBefore
    }
}

/// How long before its recording a time was read from the device's clock; `None` when nobody knows, or another clock was read.
fn lag_us(recorded: &RecordedFact) -> Option<i64> {
    if recorded.is_timed_by_recording() {
        return Some(0);
    }
    let lag_us = recorded.stamp.own_wall_us()?.checked_sub(recorded.timed().at_us)?;
    let at_once = matches!(recorded.clock(), ClockName::Device(_)) && (0..=AT_ONCE_US).contains(&lag_us);
    at_once.then_some(lag_us)
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
