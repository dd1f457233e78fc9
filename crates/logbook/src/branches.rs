//! Devices of which more than one copy writes: cloned disks and restored backups, as far as the logs show them.
//!
//! A home that notices that it was copied or restored begins a new log before its next write, and records there which log it
//! continues and up to which entry it certainly wrote that log (`Record::Incarnation`). Then no two entries claim one place,
//! and everything counts; but people must be told, because two homes write as one device. A [`Branching`] is known when
//!
//! - the old log continues past that entry: the original home still writes it, or a peer held what the restored home had
//!   lost; or
//! - more than one later log continues the old one.
//!
//! A home that was only moved begins a new log too, but its old one ends, so there is no branching. Neither is there one when
//! the reason was a damaged journal (`at` is absent).
//!
//! Invariant: all of this follows from entries that are held and count, so equal vectors give equal branchings.
//!
//! Deliberately absent: forks, where two entries do claim one place ([`crate::roster::Fork`]).

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::{DeviceKey, LogId, VersionVector};

use crate::book::Book;
use crate::roster::Roster;

/// Whether an entry is held and counts.
pub type Holds<'a> = &'a dyn Fn(&LogId, u64) -> bool;

/// Two branches of a device's history that continue from one place.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Branching {
    /// The log that both continue.
    pub log: LogId,
    /// The last place that they share, as far as it is known.
    pub after: u64,
    /// The later logs that continue it. If there is only one, the other branch is `log` itself beyond that place.
    pub later: Vec<LogId>,
    /// The entries that show it: what a ruling must have seen.
    pub evidence: Vec<(LogId, u64)>,
}

/// A later log, the entry of it that names the log it continues, and the last certain entry of that log.
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

/// `None` where neither log doubts who wrote the old one: then one of them continues it after the other.
fn of_two(log: &LogId, one: &Later, other: &Later) -> Option<Branching> {
    Some(Branching {
        log: *log,
        after: one.2.into_iter().chain(other.2).min()?,
        later: vec![one.0, other.0],
        evidence: vec![(one.0, one.1), (other.0, other.1)],
    })
}

/// What a device certainly holds, whichever of its copies is asked.
///
/// The newest entries of a device show what it had seen. A device with more than one writing copy has several newest entries:
/// then only what all of them had seen is certain. A device of which nothing is held certainly holds nothing.
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
