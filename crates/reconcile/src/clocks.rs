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

use std::sync::Arc;

use gladhand_facts::{DeviceKey, LogId, Place};
use gladhand_trade::standard::ClockLimits;

use crate::asked::{self, Answer, Asked, Listener, Question};
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
    facts: Arc<ClockFacts>,
    listener: Listener,
}

/// What tells of clocks.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct ClockFacts {
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
        let facts = ClockFacts {
            depot: Some(depot),
            visits: Visits::new(depot, &limits, &names, &logs.trips, &logs.by_hand),
            graph: ClockGraph::new(names.of_log(root), limits, &names, &readings),
            stretches: Stretch::all(&logs.oddities, &contacts),
            names,
            readings,
            contacts,
            logs,
        };
        Self {
            facts: Arc::new(facts),
            listener: Listener::default(),
        }
    }

    /// The same, with somebody who hears what is asked.
    pub(crate) fn heard_by(&self, listener: Listener) -> Self {
        Self {
            facts: Arc::clone(&self.facts),
            listener,
        }
    }

    /// Whether all that was asked would be answered as it was, perhaps by other clocks. `fact` gives the fact at a place.
    pub fn still_answers(&self, asked: &Asked, fact: &dyn Fn(&Place) -> Option<Arc<RecordedFact>>) -> bool {
        let alone = self.heard_by(Listener::default());
        let timed = |clock, at_us| Timed { clock, at_us };
        let answers = asked.questions().map(|question| match *question {
            Question::Measure => self.measure(),
            Question::Fact(place) => fact(&place).map_or(Answer::Gone, |w| Answer::Within(alone.interval_of(&w))),
            Question::Time(clock, at_us) => Answer::Within(alone.interval(timed(clock, at_us))),
            Question::OneClock(a, a_us, b, b_us) => Answer::Is(alone.one_clock(timed(a, a_us), timed(b, b_us))),
            Question::RanThrough(log, a_us, b_us) => Answer::Is(alone.ran_through(log, a_us, b_us)),
            Question::Everything => self.everything(),
        });
        asked.was_answered_by(answers)
    }

    fn measure(&self) -> Answer {
        let limits = self.facts.graph.limits();
        hashed(&format!("{:?} {limits:?}", self.facts.depot))
    }

    fn everything(&self) -> Answer {
        hashed(&format!("{:?}", self.facts))
    }

    /// All that was measured, apart from the readings: when it changes, the times of many facts change.
    pub fn measures(&self) -> (&[Trip], &[HandReading], &[Stretch]) {
        self.listener.hear(Question::Everything, || self.everything());
        (&self.facts.logs.trips, &self.facts.logs.by_hand, &self.facts.stretches)
    }

    /// The readings, in order.
    pub fn readings(&self) -> &[ClockReading] {
        self.listener.hear(Question::Everything, || self.everything());
        &self.facts.readings
    }

    /// What is odd about entries, sorted.
    pub fn oddities(&self) -> &[Oddity] {
        self.listener.hear(Question::Everything, || self.everything());
        &self.facts.logs.oddities
    }

    /// Whether this is the device whose clock is the measure of all others.
    pub fn is_measure(&self, device: &DeviceKey) -> bool {
        self.listener.hear(Question::Measure, || self.measure());
        self.is_depot(device)
    }

    fn is_depot(&self, device: &DeviceKey) -> bool {
        self.facts.depot == Some(*device)
    }

    /// A time as an interval by the depot's clock; `None` when no depot is known.
    pub fn interval(&self, timed: Timed) -> Option<Interval> {
        let found = self.interval_at(timed);
        self.listener.hear(asked::time(timed), || Answer::Within(found));
        found
    }

    fn interval_at(&self, timed: Timed) -> Option<Interval> {
        let limits = self.facts.graph.limits()?;
        Some(match timed.clock {
            ClockName::Reference => Interval::around(timed.at_us, limits.off_us),
            ClockName::Person(_) => Interval::ALWAYS,
            ClockName::Device(log) => self.read_from(log, timed.at_us, Interval::ALWAYS, limits),
        })
    }

    /// When a fact happened, as an interval by the depot's clock; `None` when no depot is known.
    pub fn interval_of(&self, recorded: &RecordedFact) -> Option<Interval> {
        let found = self.interval_of_fact(recorded);
        self.listener
            .hear(Question::Fact(recorded.place), || Answer::Within(found));
        found
    }

    fn interval_of_fact(&self, recorded: &RecordedFact) -> Option<Interval> {
        let limits = self.facts.graph.limits()?;
        let timed = recorded.timed();
        match (timed.clock, lag_us(recorded)) {
            (ClockName::Reference, _) => self.interval_at(timed),
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
        if self.is_depot(&log.device) {
            return Interval::around(shown_us, 0);
        }
        let mut window = self.window(recorded);
        if window.from_us > i64::MIN {
            window.from_us = window.from_us.saturating_sub(lag_us);
        }
        let known = self.known(log, shown_us, Some(seq), window, limits);
        let stretch = self.facts.stretches.iter().find(|s| s.covers(log, seq));
        let possible = stretch.map_or(known.at, |s| s.possible(known.wide));
        possible.and(window)
    }

    /// A time that the clock of `log` showed at some time within `window`.
    fn read_from(&self, log: LogId, at_us: i64, window: Interval, limits: &ClockLimits) -> Interval {
        let known = self.known(log, at_us, None, window, limits);
        if self.is_depot(&log.device) {
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
        let clock = self.facts.names.of_log(log);
        self.facts
            .stretches
            .iter()
            .filter(move |s| self.facts.names.of_log(s.log) == clock)
    }

    /// Between which times of the depot a fact was recorded, whatever the clock of its device showed.
    fn window(&self, recorded: &RecordedFact) -> Interval {
        let place = &recorded.place;
        if self.is_depot(&place.log.device) {
            return Interval::ALWAYS;
        }
        let by_entries = self.facts.logs.enclosing(place, &recorded.seen);
        let contacts = self
            .facts
            .depot
            .map(|depot| self.facts.contacts.enclosing(place, &recorded.seen, depot));
        contacts.map_or(by_entries, |contacts| contacts.and(by_entries))
    }

    /// A time by readings and visits alone; `None` when neither ties the device to the depot.
    pub fn measured_interval(&self, log: LogId, at_us: i64) -> Option<Interval> {
        self.listener.hear(Question::Everything, || self.everything());
        self.measured_within(log, at_us, None, Interval::ALWAYS)
    }

    fn measured_within(&self, log: LogId, at_us: i64, seq: Option<u64>, window: Interval) -> Option<Interval> {
        let clock = self.facts.names.of_log(log);
        let by_visits = self.facts.visits.interval(clock, at_us, seq.map(|seq| (log, seq)));
        match self.facts.graph.measured(clock, at_us, window) {
            Some(measured) => Some(measured.and(by_visits)),
            None => Some(by_visits).filter(Interval::is_closed),
        }
    }

    /// When a reading was taken, by the depot's clock, without using the clock of `device`, which is one of its ends.
    pub fn taken(&self, device: DeviceKey, reading: &ClockReading) -> Option<Interval> {
        self.listener.hear(Question::Everything, || self.everything());
        let clock = if reading.device == device {
            self.facts.names.of_log(reading.place.log)
        } else {
            self.facts.names.of_device(device)?
        };
        self.facts.graph.taken(&self.facts.names, clock, reading)
    }

    /// Whether two times were read from one clock, and nothing says that it was set between them.
    pub fn one_clock(&self, a: Timed, b: Timed) -> bool {
        let is_one = self.is_one_clock(a, b);
        // Two times of a server always are; a server's and a device's, or what a person said, never.
        if let (ClockName::Device(_), ClockName::Device(_)) = (a.clock, b.clock) {
            let question = Question::OneClock(a.clock, a.at_us, b.clock, b.at_us);
            self.listener.hear(question, || Answer::Is(is_one));
        }
        is_one
    }

    fn is_one_clock(&self, a: Timed, b: Timed) -> bool {
        match (a.clock, b.clock) {
            (ClockName::Reference, ClockName::Reference) => true,
            (ClockName::Device(one), ClockName::Device(other)) => {
                self.facts.names.of_log(one) == self.facts.names.of_log(other)
                    && self.has_run_through(one, a.at_us, b.at_us)
            }
            _ => false,
        }
    }

    /// Whether neither contacts nor entries show that the clock of a log was set between two times that it showed.
    pub(crate) fn ran_through(&self, log: LogId, a_us: i64, b_us: i64) -> bool {
        let has_run = self.has_run_through(log, a_us, b_us);
        let question = Question::RanThrough(log, a_us, b_us);
        self.listener.hear(question, || Answer::Is(has_run));
        has_run
    }

    fn has_run_through(&self, log: LogId, a_us: i64, b_us: i64) -> bool {
        let shown = Interval {
            from_us: a_us.min(b_us),
            to_us: a_us.max(b_us),
        };
        let is_measure = self.is_depot(&log.device);
        let doubted = !is_measure && self.stretches_of(log).any(|s| s.may_have_shown(shown));
        !doubted && self.facts.graph.ran_through(self.facts.names.of_log(log), a_us, b_us)
    }
}

fn hashed(text: &str) -> Answer {
    Answer::Hash(*blake3::hash(text.as_bytes()).as_bytes())
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

#[cfg(test)]
#[path = "clocks_tests.rs"]
mod tests;
