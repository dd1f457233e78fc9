//! The readings of one pair of clocks, as seen from one of the two.
//!
//! Consecutive readings whose differences drift can explain form a *run*. Between two runs one of the clocks was set, at an
//! unknown time. Where the other clock is the depot's, it orders the runs and limits between which of its times each can have
//! held. A time of this clock is converted by every run that can have held at that time; the result is the hull. Where the other
//! clock may be the one that was set, every run may have held.
//!
//! Invariant: if each clock drifts within the allowance and was set only where two readings contradict each other, the true
//! time is inside.

use crate::clock_reading::ClockReading;
use crate::interval::Interval;

/// One end of a reading, seen from one of its two devices.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Reading {
    at_us: i64,
    offset_us: i64,
    half_us: i64,
}

impl Reading {
    /// Seen from the device that measured.
    pub(crate) fn of(reading: &ClockReading) -> Self {
        Self {
            at_us: reading.at_us,
            offset_us: reading.offset_us,
            half_us: reading.half_us(),
        }
    }

    /// Seen from the other end.
    pub(crate) fn turned(self) -> Self {
        Self {
            at_us: self.there_us(),
            offset_us: self.offset_us.saturating_neg(),
            half_us: self.half_us,
        }
    }

    fn there_us(&self) -> i64 {
        self.at_us.saturating_add(self.offset_us)
    }

    /// Whether drift and the uncertainty of both explain how far two readings differ.
    fn agrees(&self, other: &Self, drift_ppm: i64) -> bool {
        let apart = i128::from(self.at_us).abs_diff(i128::from(other.at_us));
        let allowed_us = drifted(apart, drift_ppm)
            .saturating_add(self.half_us)
            .saturating_add(other.half_us);
        i128::from(self.offset_us).abs_diff(i128::from(other.offset_us)) <= u128::from(allowed_us.unsigned_abs())
    }

    /// A time by the other clock, by this reading alone.
    fn carry(&self, time: Interval, drift_ppm: i64) -> Interval {
        let far = |us: i64| i128::from(us).abs_diff(i128::from(self.at_us));
        let drift_us = drifted(far(time.from_us).max(far(time.to_us)), drift_ppm);
        time.moved(self.offset_us)
            .widened(self.half_us.saturating_add(drift_us))
    }
}

fn drifted(distance_us: u128, drift_ppm: i64) -> i64 {
    let ppm = u128::try_from(drift_ppm).unwrap_or(0);
    i64::try_from(distance_us.saturating_mul(ppm) / 1_000_000).unwrap_or(i64::MAX)
}

/// Readings that agree, one after the other.
#[derive(Debug, Clone, PartialEq, Eq)]
struct ClockRun {
    readings: Vec<Reading>,
    /// The depot's time of the last reading that contradicts this run from before, where that is known.
    after_us: Option<i64>,
    /// The same for the first one from after it.
    before_us: Option<i64>,
}

impl ClockRun {
    /// A time by the other clock: by the reading before it or the one after it, whichever says it more narrowly.
    fn cross(&self, time: Interval, drift_ppm: i64) -> Option<Interval> {
        let middle_us = time.from_us.saturating_add(time.width_us() / 2);
        let after = self.readings.partition_point(|reading| reading.at_us <= middle_us);
        let carry = |i: usize| self.readings.get(i).map(|reading| reading.carry(time, drift_ppm));
        match (after.checked_sub(1).and_then(carry), carry(after)) {
            (Some(a), Some(b)) if a.touches(&b) => Some(if a.width_us() <= b.width_us() { a } else { b }),
            (Some(a), Some(b)) => Some(a.hull(b)),
            (one, other) => one.or(other),
        }
    }

    /// Whether this run can have held at `there`, a time of the depot's clock.
    fn may_hold(&self, there: Interval) -> bool {
        self.after_us.is_none_or(|after_us| there.to_us >= after_us)
            && self.before_us.is_none_or(|before_us| there.from_us <= before_us)
    }
}

/// All readings of a pair.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct PairReadings {
    runs: Vec<ClockRun>,
    drift_ppm: i64,
}

impl PairReadings {
    /// `ordered`: the other clock is the depot's, which is never wrong.
    pub(crate) fn new(mut readings: Vec<Reading>, ordered: bool, drift_ppm: i64) -> Self {
        if ordered {
            readings.sort_unstable_by_key(|reading| (reading.there_us(), *reading));
        } else {
            readings.sort_unstable();
        }
        let mut runs: Vec<ClockRun> = readings
            .chunk_by(|a, b| a.agrees(b, drift_ppm))
            .map(|readings| ClockRun {
                readings: readings.to_vec(),
                after_us: None,
                before_us: None,
            })
            .collect();
        if ordered {
            bound(&mut runs);
        }
        runs.iter_mut().for_each(|run| run.readings.sort_unstable());
        Self { runs, drift_ppm }
    }

    /// A time by the other clock, of which is known that it lies within `window`.
    pub(crate) fn cross(&self, time: Interval, window: Interval) -> Option<Interval> {
        let carried = self.carried(time);
        let possible = carried
            .iter()
            .filter(|(_, there, held)| *held && there.touches(&window));
        let possible = possible.map(|(_, there, _)| *there);
        let all = || carried.iter().map(|(_, there, _)| *there);
        possible.reduce(Interval::hull).or_else(|| all().reduce(Interval::hull))
    }

    /// Whether one and the same run held at both times, and no other can have.
    pub(crate) fn same_run(&self, a_us: i64, b_us: i64) -> bool {
        let held = |at_us: i64| -> Vec<usize> {
            let carried = self.carried(Interval::around(at_us, 0));
            carried
                .into_iter()
                .filter(|(_, _, held)| *held)
                .map(|(i, _, _)| i)
                .collect()
        };
        let held_at_a = held(a_us);
        held_at_a.len() == 1 && held_at_a == held(b_us)
    }

    /// The times of this clock that may be carried otherwise than by `before`; `None` when both say the same.
    pub(crate) fn changed_times(&self, before: &Self) -> Option<Interval> {
        if self == before {
            return None;
        }
        let ([now], [then], true) = (
            self.runs.as_slice(),
            before.runs.as_slice(),
            self.drift_ppm == before.drift_ppm,
        ) else {
            return Some(Interval::ALWAYS);
        };
        let (now, then) = (&now.readings, &then.readings);
        let same = |pair: &(&Reading, &Reading)| pair.0 == pair.1;
        let first = now.iter().zip(then).take_while(same).count();
        let rest = now.len().min(then.len()).saturating_sub(first);
        let last = now
            .iter()
            .rev()
            .zip(then.iter().rev())
            .take(rest)
            .take_while(same)
            .count();
        let at = |i: Option<usize>| i.and_then(|i| now.get(i)).map(|reading| reading.at_us);
        let after = now.len().checked_sub(last).filter(|_| last > 0);
        Some(Interval {
            from_us: at(first.checked_sub(1)).unwrap_or(i64::MIN),
            to_us: at(after).unwrap_or(i64::MAX),
        })
    }

    /// Whether all readings agree, and find a difference of at most `off_us`.
    pub(crate) fn is_one_run_within(&self, off_us: i64) -> bool {
        let mut readings = self.runs.iter().flat_map(|run| &run.readings);
        !self.was_set() && readings.all(|reading| reading.offset_us.saturating_abs() <= off_us)
    }

    /// Whether one of the two clocks was set.
    pub(crate) fn was_set(&self) -> bool {
        self.runs.len() > 1
    }

    /// Per run, what it makes of a time, and whether it can have held then.
    fn carried(&self, time: Interval) -> Vec<(usize, Interval, bool)> {
        let runs = self.runs.iter().enumerate();
        runs.filter_map(|(i, run)| {
            let there = run.cross(time, self.drift_ppm)?;
            Some((i, there, run.may_hold(there)))
        })
        .collect()
    }
}

/// Tells each run between which times of the depot it can have held.
fn bound(runs: &mut [ClockRun]) {
    let ends: Vec<Option<(i64, i64)>> = runs
        .iter()
        .map(|run| Some((run.readings.first()?.there_us(), run.readings.last()?.there_us())))
        .collect();
    let end = |i: Option<usize>| i.and_then(|i| ends.get(i).copied().flatten());
    for (i, run) in runs.iter_mut().enumerate() {
        run.after_us = end(i.checked_sub(1)).map(|(_, last)| last);
        run.before_us = end(i.checked_add(1)).map(|(first, _)| first);
    }
}

#[cfg(test)]
#[path = "pair_readings_tests.rs"]
mod tests;
