//! What the logs say about devices that speak with two voices, as the reconciler wants it.

use gladhand_facts::{LogId, Place};
use gladhand_logbook::branches::{Branching, Holds, branchings};
use gladhand_logbook::roster::{self, Roster};
use gladhand_reconcile::{Fork, Split};

/// The forks and branchings that came to light, sorted. Equal vectors give equal ones.
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
