//! Entries behind a gap of their log: good on disk, and of no use until what is missing comes back.
//!
//! Deliberately absent: letting them in. Nothing here knows the hash chain, so an entry that waits is only handed out to be checked
//! and appended again (`ready.rs`).
//!
//! Invariant: no entry that waits counts. Of two at one place the later one is kept.

use std::collections::BTreeMap;

use gladhand_facts::LogId;

use crate::record::{Loc, Record, RecordKind};

/// Entries of a log that are missing, and those behind them that wait for them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Gap {
    /// The log.
    pub log: LogId,
    /// The first entry that is missing.
    pub from: u64,
    /// The last one. Less than `from` when nothing is missing any more, and what waits has not been let in.
    pub to: u64,
    /// How many wait behind it, up to the next gap.
    pub waiting: u64,
}

impl Gap {
    /// How many entries are missing.
    pub fn missing(&self) -> u64 {
        (self.to + 1).saturating_sub(self.from)
    }
}

/// What waits of one log.
#[derive(Debug, Clone, Default)]
pub(crate) struct Waiting {
    pub(crate) entries: BTreeMap<u64, Loc>,
    pub(crate) checkpoints: BTreeMap<u64, Loc>,
}

impl Waiting {
    pub(crate) fn add(&mut self, record: &Record<'_>, loc: Loc) {
        match record.kind {
            RecordKind::Entry => self.entries.insert(record.seq, loc),
            RecordKind::Checkpoint => self.checkpoints.insert(record.seq, loc),
            RecordKind::Other(_) => None,
        };
    }

    pub(crate) fn remove(&mut self, seq: u64) {
        self.entries.remove(&seq);
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    pub(crate) fn last(&self) -> Option<u64> {
        self.entries.keys().next_back().copied()
    }

    /// The gaps of this log, which counts up to `head`.
    pub(crate) fn gaps(&self, log: LogId, head: u64) -> Vec<Gap> {
        let mut gaps: Vec<Gap> = Vec::new();
        let mut next = head + 1;
        for seq in self.entries.keys() {
            match gaps.last_mut().filter(|_| *seq == next) {
                Some(gap) => gap.waiting += 1,
                None => gaps.push(Gap {
                    log,
                    from: next,
                    to: seq - 1,
                    waiting: 1,
                }),
            }
            next = seq + 1;
        }
        gaps
    }

    /// Those that follow `head` without a gap, with where each begins.
    pub(crate) fn following(&self, head: u64) -> impl Iterator<Item = (u64, Loc)> {
        let entries = self.entries.range(head + 1..).zip(head + 1..);
        entries
            .take_while(|((seq, _), next)| *seq == next)
            .map(|((seq, loc), _)| (*seq, *loc))
    }
}
