//! What the journal remembers in memory: per log, where each entry and checkpoint begins.
//!
//! Eight bytes for an entry, sixteen for a checkpoint. An entry counts only if it follows its log: the first is 1, each next
//! one is one more. What does not follow waits where it is (`waiting.rs`). Its bytes are not believed on their own: when the gap is
//! closed, whoever knows the hash chain checks them and appends them again.

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::{LogId, VersionVector};

use crate::record::{Loc, Record, RecordKind};
use crate::waiting::{Gap, Waiting};

/// Whether a record counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Admission {
    /// It follows, and is counted now.
    Follows,
    /// Its log already has an entry at that place.
    Known,
    /// Something before it is missing.
    Gap,
}

#[derive(Debug, Clone, Default)]
struct LogState {
    /// Entry `seq` begins at `entries[seq - 1]`.
    entries: Vec<Loc>,
    /// By seq.
    checkpoints: Vec<(u64, Loc)>,
}

impl LogState {
    fn head(&self) -> u64 {
        self.entries.len() as u64
    }

    fn entry(&self, seq: u64) -> Option<Loc> {
        let index = usize::try_from(seq.checked_sub(1)?).ok()?;
        self.entries.get(index).copied()
    }

    fn checkpoint_slot(&self, seq: u64) -> Result<usize, usize> {
        self.checkpoints.binary_search_by_key(&seq, |(seq, _)| *seq)
    }

    fn checkpoint(&self, seq: u64) -> Option<Loc> {
        let slot = self.checkpoint_slot(seq).ok()?;
        self.checkpoints.get(slot).map(|(_, loc)| *loc)
    }
}

/// All logs. A clone shares them until one of the two grows.
#[derive(Debug, Clone, Default)]
pub(crate) struct Offsets {
    logs: BTreeMap<LogId, Arc<LogState>>,
    /// What is behind gaps.
    waiting: BTreeMap<LogId, Arc<Waiting>>,
}

impl Offsets {
    pub(crate) fn head(&self, log: &LogId) -> u64 {
        self.logs.get(log).map_or(0, |state| state.head())
    }

    pub(crate) fn vector(&self) -> VersionVector {
        self.logs.iter().map(|(log, state)| (*log, state.head())).collect()
    }

    pub(crate) fn logs(&self) -> impl Iterator<Item = LogId> + '_ {
        self.logs
            .iter()
            .filter(|(_, state)| state.head() > 0)
            .map(|(log, _)| *log)
    }

    pub(crate) fn entry(&self, log: &LogId, seq: u64) -> Option<Loc> {
        self.logs.get(log)?.entry(seq)
    }

    pub(crate) fn checkpoint(&self, log: &LogId, seq: u64) -> Option<Loc> {
        self.logs.get(log)?.checkpoint(seq)
    }

    pub(crate) fn checkpoints(&self, log: &LogId) -> impl DoubleEndedIterator<Item = u64> + '_ {
        let state = self.logs.get(log);
        state
            .into_iter()
            .flat_map(|state| state.checkpoints.iter().map(|(seq, _)| *seq))
    }

    /// The first checkpoint at or after `seq`.
    pub(crate) fn checkpoint_from(&self, log: &LogId, seq: u64) -> Option<u64> {
        let state = self.logs.get(log)?;
        let slot = state.checkpoint_slot(seq).unwrap_or_else(|slot| slot);
        state.checkpoints.get(slot).map(|(seq, _)| *seq)
    }

    /// Every place that counts, with its log and seq.
    pub(crate) fn places(&self) -> impl Iterator<Item = (LogId, u64, Loc)> + '_ {
        self.logs.iter().flat_map(|(log, state)| {
            let entries = state
                .entries
                .iter()
                .enumerate()
                .map(|(i, loc)| (*log, i as u64 + 1, *loc));
            entries.chain(state.checkpoints.iter().map(|(seq, loc)| (*log, *seq, *loc)))
        })
    }

    /// What waits behind the gaps of a log, if it has any.
    pub(crate) fn waiting(&self, log: &LogId) -> Option<&Waiting> {
        self.waiting.get(log).map(|waiting| &**waiting)
    }

    /// The logs of which something waits.
    pub(crate) fn waiting_logs(&self) -> impl Iterator<Item = (LogId, &Waiting)> {
        self.waiting.iter().map(|(log, waiting)| (*log, &**waiting))
    }

    /// The gaps of a log, in order.
    pub(crate) fn gaps(&self, log: &LogId) -> Vec<Gap> {
        let waiting = self.waiting(log);
        waiting.map_or_else(Vec::new, |waiting| waiting.gaps(*log, self.head(log)))
    }

    /// Whether the record that begins at `loc` is one that counts.
    pub(crate) fn holds(&self, record: &Record<'_>, loc: Loc) -> bool {
        match record.kind {
            RecordKind::Entry => self.entry(&record.log, record.seq) == Some(loc),
            RecordKind::Checkpoint => self.checkpoint(&record.log, record.seq) == Some(loc),
            RecordKind::Other(_) => true,
        }
    }

    /// Counts a record if it follows.
    pub(crate) fn admit(&mut self, record: &Record<'_>, loc: Loc) -> Admission {
        match record.kind {
            RecordKind::Entry => self.admit_entry(record, loc),
            RecordKind::Checkpoint => self.admit_checkpoint(record, loc),
            RecordKind::Other(_) => Admission::Follows,
        }
    }

    fn admit_entry(&mut self, record: &Record<'_>, loc: Loc) -> Admission {
        match record.seq.checked_sub(self.head(&record.log)) {
            Some(1) => {
                let state = self.logs.entry(record.log).or_default();
                Arc::make_mut(state).entries.push(loc);
                self.arrived(record);
                Admission::Follows
            }
            Some(2..) => {
                Arc::make_mut(self.waiting.entry(record.log).or_default()).add(record, loc);
                Admission::Gap
            }
            Some(0) | None => Admission::Known,
        }
    }

    /// An entry that waited counts now, or another one in its place.
    fn arrived(&mut self, record: &Record<'_>) {
        let Some(waiting) = self.waiting.get_mut(&record.log) else {
            return;
        };
        let waiting = Arc::make_mut(waiting);
        waiting.remove(record.seq);
        if waiting.is_empty() {
            self.waiting.remove(&record.log);
        }
    }

    fn admit_checkpoint(&mut self, record: &Record<'_>, loc: Loc) -> Admission {
        let Some(state) = self
            .logs
            .get_mut(&record.log)
            .filter(|state| record.seq <= state.head())
        else {
            if let Some(waiting) = self.waiting.get_mut(&record.log) {
                Arc::make_mut(waiting).add(record, loc);
            }
            return Admission::Gap;
        };
        match state.checkpoint_slot(record.seq) {
            Ok(_) => Admission::Known,
            Err(slot) => {
                Arc::make_mut(state).checkpoints.insert(slot, (record.seq, loc));
                Admission::Follows
            }
        }
    }
}
