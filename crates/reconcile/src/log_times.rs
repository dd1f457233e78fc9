//! What the logs themselves tell of clocks, beside the readings: given to [`crate::clocks::Clocks`] by whoever holds the entries.
//!
//! - What the depot's own entries enclose. An entry that had seen one of the depot's was written after it, and one that the depot
//!   had seen was written before: both by the depot's clock.
//! - Oddities: see [`crate::oddity`].
//! - Forks: see [`crate::clock_names`].
//! - Sticks that were carried, and clocks read off by hand: see [`crate::sticks`]. When one of these becomes known, the times of
//!   all facts of that device change, as with a reading of its clock.
//!
//! Invariants: all of it follows from entries that are held and count, in any order of arrival. What encloses an entry never
//! changes but once: when the first entry of the depot that had seen it becomes known. Whoever judges incrementally judges again
//! what names the facts of that entry.

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::{DeviceKey, LogId, Place, Stamp, VersionVector};
use gladhand_trade::standard::ClockLimits;

use crate::facts::Fork;
use crate::interval::Interval;
use crate::oddity::{Oddity, ShownAt, Shows};
use crate::sticks::{HandReading, Trip};

/// The entries of one of the depot's logs.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct DepotLog {
    /// What its clock showed, by the entries whose stamps tell, in their order.
    walls: Vec<(u64, i64)>,
    /// The entries at which it had newly seen something: the latest time at which they were written, and all that was seen.
    points: Vec<(u64, i64, Arc<VersionVector>)>,
}

impl DepotLog {
    /// Adds the entry that comes next. `seen` is all that it had seen, where it had newly seen something.
    pub fn add(&mut self, seq: u64, stamp: Stamp, seen: Option<Arc<VersionVector>>) {
        if let Some(wall_us) = stamp.own_wall_us() {
            self.walls.push((seq, wall_us));
        }
        if let Some(seen) = seen {
            self.points.push((seq, stamp.wall_us, seen));
        }
    }

    /// A log from its parts: per entry whose stamp tells what its clock showed, and per entry at which something was newly seen the
    /// wall part of its stamp and all that was seen, both in order.
    pub fn new(walls: Vec<(u64, i64)>, points: Vec<(u64, i64, Arc<VersionVector>)>) -> Self {
        Self { walls, points }
    }

    /// An entry that had seen this one was written after this time.
    fn written_after(&self, seq: u64) -> Option<i64> {
        let known = self.walls.partition_point(|(at, _)| *at <= seq);
        let last = known.checked_sub(1).and_then(|i| self.walls.get(i));
        last.map(|(_, wall_us)| *wall_us)
    }

    /// When it had seen this entry of another log, at the latest.
    fn seen_by(&self, place: &Place) -> Option<i64> {
        let before = self
            .points
            .partition_point(|(_, _, seen)| !seen.includes(&place.log, place.seq));
        self.points.get(before).map(|(_, wall_us, _)| *wall_us)
    }
}

/// See the module doc.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct LogTimes {
    /// The depot's logs.
    pub depot: BTreeMap<LogId, DepotLog>,
    /// What is odd about entries of any log, sorted.
    pub oddities: Vec<Oddity>,
    /// The forks that are known.
    pub forks: Vec<Fork>,
    /// The bundles that were carried, sorted.
    pub trips: Vec<Trip>,
    /// The clocks that were read off by hand, sorted.
    pub by_hand: Vec<HandReading>,
}

impl LogTimes {
    /// Between which times of the depot's clock an entry was written that is no entry of the depot. `seen` is what its writer had
    /// seen.
    pub(crate) fn enclosing(&self, place: &Place, seen: &VersionVector) -> Interval {
        let after = self.depot.iter().filter_map(|(log, depot)| {
            let seq = seen.get(log);
            if seq > 0 { depot.written_after(seq) } else { None }
        });
        let before = self.depot.values().filter_map(|depot| depot.seen_by(place));
        Interval {
            from_us: after.max().unwrap_or(i64::MIN),
            to_us: before.min().unwrap_or(i64::MAX),
        }
    }

    /// Adds what visits show of clocks that are wrong.
    pub(crate) fn add_oddities_of_visits(&mut self, depot: DeviceKey, limits: &ClockLimits) {
        let met = self.trips.iter().filter_map(|trip| {
            let read = ShownAt {
                log: trip.place.log,
                seq: trip.place.seq,
                shown_us: trip.read_us,
            };
            let written = ShownAt {
                log: trip.writer,
                seq: trip.head,
                shown_us: trip.written_us,
            };
            match (read.log.device == depot, written.log.device == depot) {
                (true, false) => written.seen_by_depot(read),
                (false, true) => read.saw_depot(written),
                _ => None,
            }
        });
        let apart = self.by_hand.iter().filter(|r| r.place.log.device != depot);
        let apart = apart.map(|reading| Oddity {
            log: reading.place.log,
            seq: reading.place.seq,
            shows: Shows::Apart {
                shown_us: reading.shown_us,
                reference_us: reading.reference_us,
                uncertainty_us: reading.half_us(limits),
            },
        });
        let found: Vec<Oddity> = met.chain(apart.filter(|odd| odd.shows.off_us() > 0)).collect();
        self.oddities.extend(found);
        self.oddities.sort();
    }
}
