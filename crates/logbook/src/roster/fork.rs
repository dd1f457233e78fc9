//! Known forks: two different entries at one place of a log.

use std::collections::BTreeMap;

use gladhand_facts::LogId;

/// Two different entries at one place, as some node has seen them.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fork {
    /// The log.
    pub log: LogId,
    /// The place.
    pub seq: u64,
    /// The two hashes, in hexadecimal, sorted.
    pub hashes: [String; 2],
    /// Where it was recorded; of several records the one at the smallest place.
    pub evidence: Option<(LogId, u64)>,
}

/// All forks that are recorded, by log and place.
#[derive(Debug, Clone, Default)]
pub(super) struct Forks(BTreeMap<(LogId, u64), Fork>);

impl Forks {
    /// Several nodes may record the same fork. The record at the smallest place is kept, so the order of arrival does not
    /// matter. A record of a log that does not read is ignored.
    pub(super) fn learn(&mut self, log: &str, seq: u64, hashes: [String; 2], evidence: (LogId, u64)) {
        let Ok(log) = log.parse::<LogId>() else { return };
        let evidence = Some(evidence);
        let fork = Fork {
            log,
            seq,
            hashes,
            evidence,
        };
        let known = self.0.entry((log, seq)).or_insert_with(|| fork.clone());
        if fork.evidence < known.evidence {
            *known = fork;
        }
    }

    pub(super) fn contain(&self, log: &LogId) -> bool {
        self.0.range((*log, 0)..=(*log, u64::MAX)).next().is_some()
    }

    pub(super) fn all(&self) -> Vec<Fork> {
        self.0.values().cloned().collect()
    }
}
