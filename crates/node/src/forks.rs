//! Forks (two entries with one number in one log) and branchings (two continuations of one log), as the reconciler takes them.
//!
//! Deliberately absent: deciding which of the two is right. Both are evidence, and a finding asks a person.

use gladhand_facts::{LogId, Place};
use gladhand_logbook::branches::{Branching, Holds, branchings};
use gladhand_logbook::roster::{self, Roster};
use gladhand_reconcile::{Fork, Split};

/// All forks and branchings that are known, sorted. Nodes with equal version vectors get equal results.
pub(crate) fn forks(roster: &Roster, holds: Holds<'_>) -> Vec<Fork> {
    let claimed = roster.forks().into_iter().map(of_fork);
    let continued = branchings(roster, holds).into_iter().map(of_branching);
    let mut found: Vec<Fork> = claimed.chain(continued).collect();
    found.sort();
    found
}

fn place((log, seq): (LogId, u64)) -> Place {
    Place { log, seq, index: 0 }
}

fn of_fork(fork: roster::Fork) -> Fork {
    // The record comes from another device. A hash that cannot be read is left out: log and number of the fork stand without it.
    let hash = |text: &String| -> Option<[u8; 32]> {
        let bytes = data_encoding::HEXLOWER_PERMISSIVE.decode(text.as_bytes()).ok()?;
        bytes.try_into().ok()
    };
    Fork {
        log: fork.log,
        seq: fork.seq,
        split: Split::Claimed(fork.hashes.iter().filter_map(hash).collect()),
        evidence: fork.evidence.into_iter().map(place).collect(),
    }
}

fn of_branching(branching: Branching) -> Fork {
    Fork {
        log: branching.log,
        seq: branching.after.saturating_add(1),
        split: Split::Continued(branching.later),
        evidence: branching.evidence.into_iter().map(place).collect(),
    }
}
