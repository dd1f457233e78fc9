//! What is different between two states of knowledge about the clocks: whose times may compare otherwise than before.
//!
//! Deliberately generous: it names stretches of times and entries within which everything is to be compared again. Outside of them
//! every interval and every answer of [`Clocks`] is the same as before, which `tests/clock_changes.rs` checks.
//!
//! - A reading changes the times of the two clocks between the readings before and after it, and those of clocks that are converted
//!   through one of them. Where readings show that a clock was set, all of its times are named.
//! - A contact changes the entries of its log between the contacts before and after it.
//! - A stick, a clock read off by hand and a stretch in which a clock was set back change all times of the clock.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::{DeviceKey, LogId};

use super::Clocks;
use crate::clock_graph::{ClockGraph, HOPS};
use crate::contacts::Contacts;
use crate::interval::Interval;

/// A clock that is farther off than this is not looked for near the times that it shows.
const FAR_OFF_US: i64 = 24 * 3_600_000_000;
/// How far from a changed reading the times of other clocks are looked for. Both of two clocks may be off by [`FAR_OFF_US`].
const AROUND_US: i64 = 3 * FAR_OFF_US;

/// What is different. See the module doc.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ClockChanges {
    /// Everything may be: another depot, other limits, or a copy of a home that became known.
    pub everything: bool,
    /// Per device, the times of its clock that may be meant by something else, in microseconds since 1970, both ends included.
    pub times: BTreeMap<DeviceKey, (i64, i64)>,
    /// Per log the entries, from the first number to the second one, both included.
    pub entries: BTreeMap<LogId, Vec<(u64, u64)>>,
    /// The devices of whose clocks something else is known.
    pub devices: BTreeSet<DeviceKey>,
}

impl ClockChanges {
    fn note_times(&mut self, clock: LogId, times: Interval) {
        let known = self.times.entry(clock.device).or_insert((times.from_us, times.to_us));
        *known = (known.0.min(times.from_us), known.1.max(times.to_us));
        self.devices.insert(clock.device);
    }
}

impl Clocks {
    /// What is different from `before`.
    pub fn changes_since(&self, before: &Self) -> ClockChanges {
        let mut found = ClockChanges {
            everything: self.depot != before.depot
                || self.graph.limits() != before.graph.limits()
                || self.names != before.names,
            ..ClockChanges::default()
        };
        self.note_readings(before, &mut found);
        note_contacts(&self.contacts, &before.contacts, &mut found);
        for clock in self.visits.changed_since(&before.visits) {
            found.note_times(clock, Interval::ALWAYS);
        }
        let stretches = self.stretches.iter().filter(|s| !before.stretches.contains(s));
        let no_more = before.stretches.iter().filter(|s| !self.stretches.contains(s));
        for stretch in stretches.chain(no_more) {
            found.note_times(self.names.of_log(stretch.log), Interval::ALWAYS);
        }
        let (now, then) = (self.oddities(), before.oddities());
        let odd = now.iter().filter(|odd| then.binary_search(odd).is_err());
        let no_more = then.iter().filter(|odd| now.binary_search(odd).is_err());
        found.devices.extend(odd.chain(no_more).map(|odd| odd.log.device));
        found
    }

    fn note_readings(&self, before: &Self, found: &mut ClockChanges) {
        for (from, to, times) in self.graph.changed_since(&before.graph) {
            found.devices.extend([from.device, to.device]);
            let mut reached = self.graph.clocks_before(from);
            reached.extend(before.graph.clocks_before(from));
            let is_near = |clock: &LogId| self.graph.is_nearly_right(*clock, FAR_OFF_US);
            let near = reached.iter().all(is_near) && is_near(&from) && is_near(&to);
            // Readings against a clock that is converted otherwise are judged otherwise.
            let peers = |graph: &ClockGraph| -> Vec<DeviceKey> {
                let pairs = reached.iter().filter_map(|clock| graph.pairs().get(clock));
                pairs.flatten().map(|(peer, _)| peer.device).collect()
            };
            found.devices.extend(peers(&self.graph));
            found.devices.extend(peers(&before.graph));
            for clock in reached {
                let times = if near && clock == from {
                    times
                } else if near {
                    times.widened(AROUND_US)
                } else {
                    Interval::ALWAYS
                };
                found.note_times(clock, times);
            }
        }
    }
}

fn note_contacts(now: &Contacts, before: &Contacts, found: &mut ClockChanges) {
    for (log, seq) in now.changed_since(before) {
        let ((a, b), (c, d)) = (now.reach(&log, seq), before.reach(&log, seq));
        found.entries.entry(log).or_default().push((a.min(c), b.max(d)));
        found.devices.insert(log.device);
    }
}

impl ClockGraph {
    /// The edges whose readings differ, with the times of the first clock that they change.
    fn changed_since(&self, before: &Self) -> Vec<(LogId, LogId, Interval)> {
        let edges = |graph: &Self| -> BTreeSet<(LogId, LogId)> {
            let pairs = graph.pairs().iter();
            pairs.flat_map(|(from, to)| to.keys().map(|to| (*from, *to))).collect()
        };
        let (now, then) = (edges(self), edges(before));
        let all = now.union(&then);
        let changed = all.filter_map(|(from, to)| {
            let of = |graph: &'_ Self| graph.pairs().get(from).and_then(|to_| to_.get(to)).cloned();
            let times = match (of(self), of(before)) {
                (Some(now), Some(then)) => now.changed_times(&then)?,
                _ => Interval::ALWAYS,
            };
            Some((*from, *to, times))
        });
        changed.collect()
    }

    /// The clocks whose conversion may go through `clock`, itself among them.
    fn clocks_before(&self, clock: LogId) -> BTreeSet<LogId> {
        let mut reached = BTreeSet::from([clock]);
        if Some(clock) == self.root() {
            return reached;
        }
        let mut newest = vec![clock];
        for _ in 0..HOPS {
            let next = newest.iter().filter_map(|clock| self.pairs().get(clock)).flatten();
            let next: Vec<LogId> = next
                .map(|(peer, _)| *peer)
                .filter(|peer| Some(*peer) != self.root())
                .collect();
            newest = next.into_iter().filter(|peer| reached.insert(*peer)).collect();
        }
        reached
    }

    /// Whether all readings of a clock find it off by at most `off_us`, and none shows that it was set.
    fn is_nearly_right(&self, clock: LogId, off_us: i64) -> bool {
        let pairs = self.pairs().get(&clock).into_iter().flatten();
        pairs.into_iter().all(|(_, pair)| pair.is_one_run_within(off_us))
    }
}
