//! Causal gaps: entries that are held although something that they had seen is not.
//!
//! Only a disk that has lost something makes them; the gate lets none in. Such entries stay. No other node accepts them before
//! what they had seen is found again, and what is written here meanwhile does not claim to have seen them.

use std::sync::Arc;

use gladhand_facts::{LogId, VersionVector};

use super::Book;

impl Book {
    /// Finds the causal gaps. Call it once everything durable has been replayed.
    pub fn find_causal_gaps(&mut self) {
        let mut closed = self.vector();
        // Each cut may open a gap in another log, so this goes on until nothing is cut any more.
        while let Some((log, last)) = self.first_gap_within(&closed) {
            closed.cut(&log, last);
        }
        let cut = |(log, state): (&LogId, &Arc<super::log_state::LogState>)| {
            let last = closed.get(log);
            (last < state.head_seq).then_some((*log, last))
        };
        self.causal_gaps = self.logs.iter().filter_map(cut).collect();
    }

    /// The first log with an entry within `closed` that had seen something outside of it, and the last entry before that one.
    fn first_gap_within(&self, closed: &VersionVector) -> Option<(LogId, u64)> {
        let lacks = |seen: &VersionVector| {
            let mut missing = seen.iter().filter(|(other, want)| closed.get(other) < *want);
            missing.any(|(other, want)| !self.roster.refuses_for_good(&other, want))
        };
        self.logs.iter().find_map(|(log, state)| {
            let mut within = state.seen.iter().take_while(|(at, _)| *at <= closed.get(log));
            let (at, _) = within.find(|(_, seen)| lacks(seen))?;
            Some((*log, at - 1))
        })
    }

    /// Whether everything that an entry had seen is held, and everything that those entries had seen.
    pub fn is_closed(&self, log: &LogId, seq: u64) -> bool {
        self.causal_gaps.get(log).is_none_or(|last| seq <= *last)
    }

    /// The last entry of a log before its causal gap; its head if it has none.
    pub fn closed_head(&self, log: &LogId) -> u64 {
        self.causal_gaps.get(log).copied().unwrap_or_else(|| self.head(log).0)
    }

    /// The logs with a causal gap, each with the last entry before it.
    pub fn causal_gaps(&self) -> impl Iterator<Item = (LogId, u64)> + '_ {
        self.causal_gaps.iter().map(|(log, last)| (*log, *last))
    }
}
