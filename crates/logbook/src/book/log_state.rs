//! What the book keeps of one log.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::{LogId, Stamp, VersionVector};

use super::clock_trail::ClockTrail;
use super::records::LogGrowth;
use crate::entry::{self, EntryHash, EntryHeader};

/// See the module doc.
#[derive(Debug, Clone, Default)]
pub(super) struct LogState {
    pub(super) head_seq: u64,
    head: Head,
    /// The latest stamp in it.
    pub(super) stamp: Stamp,
    /// Rising entries, each with the version vector that holds from there on.
    pub(super) seen: Vec<(u64, Arc<VersionVector>)>,
    pub(super) checkpoints: BTreeSet<u64>,
    /// What the stamps tell of clocks.
    pub(super) trail: ClockTrail,
}

/// The head's hash. At start it is kept as the entry's bytes, because only the last of them is ever asked for its hash.
#[derive(Debug, Clone)]
enum Head {
    Hash(EntryHash),
    Bytes(Vec<u8>),
}

impl Default for Head {
    fn default() -> Self {
        Self::Hash(EntryHash::ZERO)
    }
}

impl LogState {
    /// `log` is the name of this log.
    pub(super) fn head_hash(&self, log: &LogId) -> EntryHash {
        match &self.head {
            Head::Hash(hash) => *hash,
            Head::Bytes(bytes) => entry::hash(log, bytes),
        }
    }

    /// The place counts even if the entry's header does not read: the next entry is chained to it.
    pub(super) fn replay(&mut self, seq: u64, bytes: &[u8]) {
        self.head_seq = seq;
        match &mut self.head {
            Head::Bytes(old) => {
                old.clear();
                old.extend_from_slice(bytes);
            }
            Head::Hash(_) => self.head = Head::Bytes(bytes.to_vec()),
        }
    }

    pub(super) fn learn_header(&mut self, seq: u64, header: &EntryHeader) {
        self.stamp = self.stamp.max(header.stamp);
        self.trail.learn(seq, header.stamp, !header.seen.is_empty());
        self.learn_seen(seq, &header.seen);
    }

    pub(super) fn apply(&mut self, growth: &LogGrowth) {
        self.head_seq = growth.head_seq;
        self.head = Head::Hash(growth.head_hash);
        self.stamp = self.stamp.max(growth.stamp);
        for (seq, stamp) in &growth.stamps {
            let has_seen = growth.seen.binary_search_by_key(seq, |(at, _)| *at).is_ok();
            self.trail.learn(*seq, *stamp, has_seen);
        }
        growth.seen.iter().for_each(|(seq, newly)| self.learn_seen(*seq, newly));
        self.checkpoints.extend(&growth.checkpoints);
    }

    fn learn_seen(&mut self, seq: u64, newly: &VersionVector) {
        if newly.is_empty() {
            return;
        }
        let mut whole = match self.seen.last() {
            Some((_, before)) => VersionVector::clone(before),
            None => VersionVector::new(),
        };
        whole.merge(newly);
        self.seen.push((seq, Arc::new(whole)));
    }
}
