//! Facts of several logs in one order that respects happens-before, whatever the clocks say.
//!
//! A merge of the logs: of the heads that follow no other head the one with the earliest stamp comes next, then the
//! smallest place. A head that has to wait is filed behind the head that it follows, so each step looks only at
//! the logs that the step concerns.
//!
//! Assumption: what a log had seen never goes back. So a head that follows no other head stays free until it is taken.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};
use std::sync::Arc;

use gladhand_facts::{LogId, Place, Stamp};

use crate::recorded_fact::RecordedFact;

/// Something recorded at a place of a log, by a writer who had seen other places.
pub trait Placed {
    /// Its place.
    fn place(&self) -> Place;
    /// Its stamp.
    fn stamp(&self) -> Stamp;
    /// Whether its writer had seen `place`.
    fn has_seen(&self, place: &Place) -> bool;
}

impl Placed for RecordedFact {
    fn place(&self) -> Place {
        self.place
    }

    fn stamp(&self) -> Stamp {
        self.stamp
    }

    fn has_seen(&self, place: &Place) -> bool {
        RecordedFact::has_seen(self, place)
    }
}

impl<T: Placed> Placed for Arc<T> {
    fn place(&self) -> Place {
        T::place(self)
    }

    fn stamp(&self) -> Stamp {
        T::stamp(self)
    }

    fn has_seen(&self, place: &Place) -> bool {
        T::has_seen(self, place)
    }
}

/// What each log holds, in the order of the places, each place once.
pub type Logs<'a, T> = BTreeMap<LogId, Vec<&'a T>>;

/// Sorts by log and place.
pub fn by_log<T: Placed>(things: &[T]) -> Logs<'_, T> {
    let mut logs: Logs<'_, T> = BTreeMap::new();
    for thing in things {
        logs.entry(thing.place().log).or_default().push(thing);
    }
    for log in logs.values_mut() {
        log.sort_by_key(|t| t.place());
        log.dedup_by_key(|t| t.place());
    }
    logs
}

/// Merges the logs into one order.
pub fn in_order<'a, T: Placed>(logs: &Logs<'a, T>) -> Vec<&'a T> {
    let mut merge = Merge {
        logs: logs.values().map(Vec::as_slice).collect(),
        next: vec![0; logs.len()],
        waiting: vec![Vec::new(); logs.len()],
        free: BinaryHeap::new(),
    };
    (0..logs.len()).for_each(|i| merge.settle(i));
    let mut order = Vec::with_capacity(logs.values().map(Vec::len).sum());
    while let Some(next) = merge.take() {
        order.push(next);
    }
    order
}

/// The facts, each once, in that order.
pub fn in_causal_order(recorded_facts: &[Arc<RecordedFact>]) -> Vec<Arc<RecordedFact>> {
    let is_next = |pair: &[Arc<RecordedFact>]| match pair {
        [a, b] => a.place.log == b.place.log && a.place < b.place,
        _ => true,
    };
    if recorded_facts.windows(2).all(is_next) {
        // One log, in its own order.
        return recorded_facts.to_vec();
    }
    in_order(&by_log(recorded_facts)).into_iter().cloned().collect()
}

struct Merge<'l, 'a, T> {
    logs: Vec<&'l [&'a T]>,
    /// How much of each log was taken.
    next: Vec<usize>,
    /// For each log the logs whose heads follow its head.
    waiting: Vec<Vec<usize>>,
    /// The heads that follow no other.
    free: BinaryHeap<Reverse<(Stamp, Place, usize)>>,
}

impl<'a, T: Placed> Merge<'_, 'a, T> {
    fn head(&self, log: usize) -> Option<&'a T> {
        self.logs.get(log)?.get(*self.next.get(log)?).copied()
    }

    /// Files the head of a log with the free ones, or behind a head that it follows.
    fn settle(&mut self, log: usize) {
        let Some(head) = self.head(log) else { return };
        let follows = |other: &usize| {
            let before = self.head(*other);
            *other != log && before.is_some_and(|b| head.has_seen(&b.place()))
        };
        match (0..self.logs.len()).find(follows) {
            Some(other) => {
                if let Some(waiting) = self.waiting.get_mut(other) {
                    waiting.push(log);
                }
            }
            None => self.free.push(Reverse((head.stamp(), head.place(), log))),
        }
    }

    fn take(&mut self) -> Option<&'a T> {
        let log = self.first_free().or_else(|| {
            // Happens-before has no circles, so some head is always free. Only a forged log gets here; it must not loop for ever.
            (0..self.logs.len()).find(|log| self.head(*log).is_some())
        })?;
        let taken = self.head(log)?;
        if let Some(next) = self.next.get_mut(log) {
            *next += 1;
        }
        let waited = self.waiting.get_mut(log).map(std::mem::take).unwrap_or_default();
        self.settle(log);
        waited.into_iter().for_each(|other| self.settle(other));
        Some(taken)
    }

    fn first_free(&mut self) -> Option<usize> {
        while let Some(Reverse((_, place, log))) = self.free.pop() {
            // A forged circle may have filed a head twice.
            if self.head(log).is_some_and(|head| head.place() == place) {
                return Some(log);
            }
        }
        None
    }
}
