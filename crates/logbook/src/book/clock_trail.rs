//! What stamps and vectors tell of clocks: what each device's clock showed at which entry, what the depot's entries enclose, and
//! where depot and device had met although the times that they show speak against it.
//!
//! Deliberately absent: any conclusion. The reconciler draws them (`clocks`, `clock-off`).
//!
//! Invariant: all of it follows from the entries that are held, in whatever order they came.

use std::sync::Arc;

use gladhand_facts::{LogId, Stamp, VersionVector};

use super::Book;

/// A smaller difference between two times is not worth keeping: an entry may have waited for a moment.
const NOTABLE_US: i64 = 60_000_000;

/// What the stamps of a log tell.
#[derive(Debug, Clone, Default)]
pub(super) struct ClockTrail {
    /// Per entry whose stamp tells what the clock showed, that time. Both rise.
    walls: Vec<(u64, i64)>,
    /// The wall part of the stamp of each entry that had newly seen something, in their order.
    points: Vec<i64>,
}

impl ClockTrail {
    pub(super) fn learn(&mut self, seq: u64, stamp: Stamp, has_seen: bool) {
        if let Some(wall_us) = stamp.own_wall_us() {
            self.walls.push((seq, wall_us));
        }
        if has_seen {
            self.points.push(stamp.wall_us);
        }
    }

    /// The last entry up to `seq` whose stamp tells what the clock showed.
    fn shown_by(&self, seq: u64) -> Option<(u64, i64)> {
        let after = self.walls.partition_point(|(at, _)| *at <= seq);
        after.checked_sub(1).and_then(|i| self.walls.get(i)).copied()
    }
}

/// An entry of a device and one of the depot. One had seen the other, and the times that they show say the opposite.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Meeting {
    /// The entry of the device, and what its clock had shown by then.
    pub entry: (LogId, u64, i64),
    /// The entry of the depot, and what its clock showed.
    pub depot: (LogId, u64, i64),
    /// Whether it is the depot's entry that had seen the other.
    pub by_depot: bool,
}

impl Book {
    /// The last entry before `seq` whose stamp tells what the clock of its device showed, and that.
    pub fn shown_before(&self, log: &LogId, seq: u64) -> Option<(u64, i64)> {
        self.logs.get(log)?.trail.shown_by(seq.checked_sub(1)?)
    }

    /// Per entry up to `upto` whose stamp tells what the clock showed, that time.
    pub fn walls(&self, log: &LogId, upto: u64) -> &[(u64, i64)] {
        let walls = self.logs.get(log).map_or(&[][..], |state| state.trail.walls.as_slice());
        let end = walls.partition_point(|(seq, _)| *seq <= upto);
        walls.get(..end).unwrap_or_default()
    }

    /// The entries up to `upto` at which something was newly seen: the wall part of the stamp, and all that was seen.
    pub fn clock_points(&self, log: &LogId, upto: u64) -> Vec<(u64, i64, Arc<VersionVector>)> {
        let Some(state) = self.logs.get(log) else {
            return Vec::new();
        };
        let points = state.seen.iter().zip(&state.trail.points);
        let held = points.take_while(|((seq, _), _)| *seq <= upto);
        held.map(|((seq, seen), wall_us)| (*seq, *wall_us, Arc::clone(seen)))
            .collect()
    }

    /// Where depot and devices had met against the times that they show.
    pub fn meetings(&self) -> &[Meeting] {
        &self.meetings
    }

    /// Looks at what entry `seq` of `log` had newly seen.
    pub(super) fn learn_meetings(&mut self, log: &LogId, seq: u64, newly: &VersionVector) {
        let Some(depot) = self.roster.root() else { return };
        let found: Vec<Meeting> = newly
            .iter()
            .filter_map(|other| self.meeting(log, seq, other, log.device == depot))
            .filter(|m| m.depot.0.device == depot && m.entry.0.device != depot)
            .collect();
        if !found.is_empty() {
            Arc::make_mut(&mut self.meetings).extend(found);
        }
    }

    fn meeting(&self, log: &LogId, seq: u64, (other, other_seq): (LogId, u64), by_depot: bool) -> Option<Meeting> {
        let state = self.logs.get(log)?;
        let (_, seen_us) = self.logs.get(&other)?.trail.shown_by(other_seq)?;
        let (depot, entry) = if by_depot {
            // The time at which it was written, at the latest.
            let point = state.seen.binary_search_by_key(&seq, |(at, _)| *at).ok()?;
            (
                (*log, seq, *state.trail.points.get(point)?),
                (other, other_seq, seen_us),
            )
        } else {
            let (at, own_us) = state.trail.shown_by(seq)?;
            if at != seq {
                return None;
            }
            ((other, other_seq, seen_us), (*log, seq, own_us))
        };
        let against_us = if by_depot {
            entry.2.saturating_sub(depot.2)
        } else {
            depot.2.saturating_sub(entry.2)
        };
        (against_us > NOTABLE_US).then_some(Meeting { entry, depot, by_depot })
    }
}
