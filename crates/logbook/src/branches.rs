//! A device that is at work in more than one copy: cloned disks and restored backups, as far as the logs tell.
//!
//! A home that finds itself copied or restored begins a new log before its next write, and says in it which log it goes
//! on from and up to which place that log was its own (`Record::Incarnation`). No two entries ever claim one place then,
//! and everything counts; but somebody must be told, because two homes speak with one voice. A [`Branching`] is known when
//!
//! - the old log goes on past that place: its original is still at work, or a peer held what the restored home had lost; or
//! - more than one later log goes on from the old one.
//!
//! A home that was merely moved begins a new log too, but its old one ends: no branching. Nor is there one where a damaged
//! journal was the reason (`at` is absent).
//!
//! Invariant: all of this follows from entries that are held and count, so equal vectors give equal branchings.
//!
//! Deliberately absent: true forks, where two entries do claim one place ([`crate::roster::Fork`]).

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::{DeviceKey, LogId, VersionVector};

use crate::book::Book;
use crate::roster::Roster;

/// Whether an entry is held and counts.
pub type Holds<'a> = &'a dyn Fn(&LogId, u64) -> bool;

/// Two branches of a device's history that go on from one place.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Branching {
    /// The log that both go on from.
    pub log: LogId,
    /// The last place that they share, as far as it is known.
    pub after: u64,
    /// The later logs that go on from it. When it is only one, the other branch is `log` itself beyond that place.
    pub later: Vec<LogId>,
    /// Where all of that stands: what a ruling must have seen.
    pub evidence: Vec<(LogId, u64)>,
}

/// A later log: its name, where it says what it goes on from, and the place that it says.
type Later = (LogId, u64, Option<u64>);

/// All branchings that are known, in the order of the logs.
pub fn branchings(roster: &Roster, holds: Holds<'_>) -> Vec<Branching> {
    let mut by_log: BTreeMap<LogId, Vec<Later>> = BTreeMap::new();
    for (later, born) in roster.incarnations() {
        if holds(later, born.seq) {
            by_log.entry(born.after).or_default().push((*later, born.seq, born.at));
        }
    }
    let mut found = Vec::new();
    for (log, later) in &by_log {
        found.extend(later.iter().filter_map(|one| from_the_log_itself(log, one, holds)));
        let pairs = later
            .iter()
            .enumerate()
            .flat_map(|(i, one)| later.iter().skip(i + 1).map(move |other| (one, other)));
        found.extend(pairs.filter_map(|(one, other)| of_two(log, one, other)));
    }
    found.sort();
    found
}

fn from_the_log_itself(log: &LogId, (later, seq, at): &Later, holds: Holds<'_>) -> Option<Branching> {
    let after = (*at)?;
    holds(log, after.saturating_add(1)).then(|| Branching {
        log: *log,
        after,
        later: vec![*later],
        evidence: vec![(*later, *seq), (*log, after.saturating_add(1))],
    })
}

/// Without any doubt about who writes the log, whatever goes on from it comes one after the other.
fn of_two(log: &LogId, one: &Later, other: &Later) -> Option<Branching> {
    Some(Branching {
        log: *log,
        after: one.2.into_iter().chain(other.2).min()?,
        later: vec![one.0, other.0],
        evidence: vec![(one.0, one.1), (other.0, other.1)],
    })
}

/// What a device holds for certain, whichever of its copies is asked.
///
/// The newest entries of a device tell what it had seen. A device that is at work in more than one copy has more than one
/// newest entry: then only what stands in all of these pasts is certain.
pub fn surely_held_by(book: &Book, device: &DeviceKey) -> VersionVector {
    let held = book.vector();
    let logs: BTreeSet<LogId> = held
        .iter()
        .map(|(log, _)| log)
        .filter(|l| l.device == *device)
        .collect();
    let holds = |log: &LogId, seq: u64| held.includes(log, seq) && book.counts(log, seq).is_ok();
    let found = branchings(book.roster(), &holds);
    let branched: BTreeSet<LogId> = found.iter().filter(|b| b.later.len() == 1).map(|b| b.log).collect();
    let born = book
        .roster()
        .incarnations()
        .iter()
        .filter(|(later, _)| logs.contains(later));
    let ended: BTreeSet<LogId> = born
        .map(|(_, b)| b.after)
        .filter(|log| !branched.contains(log))
        .collect();
    let mut pasts = logs
        .iter()
        .filter(|log| !ended.contains(log))
        .map(|log| book.known_at(log, held.get(log)));
    let first = pasts.next().unwrap_or_default();
    pasts.fold(first, |common, past| {
        let shared = common.iter().map(|(log, seq)| (log, seq.min(past.get(&log))));
        shared.collect()
    })
}

#[cfg(test)]
#[path = "branches_tests.rs"]
mod tests;
