//! What the logs of a yard tell of clocks, gathered as a node does.

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::{DeviceKey, Fact, LogId, Place, Stamp, VersionVector};
use gladhand_reconcile::{ClockReading, DatedEntry, DepotLog, Fork, LogTimes, Oddity, RecordedFact, ShownAt};

/// An entry as far as clocks are concerned.
pub struct Written {
    pub log: LogId,
    pub seq: u64,
    pub stamp: Stamp,
    /// All that it had seen, where it had newly seen something.
    pub seen: Option<Arc<VersionVector>>,
}

pub fn log_times(
    depot: DeviceKey,
    written: &[Written],
    facts: &[RecordedFact],
    readings: &[ClockReading],
    forks: &[Fork],
) -> LogTimes {
    let mut logs = LogTimes {
        forks: forks.to_vec(),
        ..LogTimes::default()
    };
    for entry in written.iter().filter(|w| w.log.device == depot) {
        let log = logs.depot.entry(entry.log).or_default();
        DepotLog::add(log, entry.seq, entry.stamp, entry.seen.clone());
    }
    let of_entry = |log: LogId, seq: u64| -> Vec<Fact> {
        let here = facts.iter().filter(|w| (w.place.log, w.place.seq) == (log, seq));
        here.map(|w| w.fact.clone()).collect()
    };
    let mut shown: BTreeMap<LogId, Vec<ShownAt>> = BTreeMap::new();
    for entry in written {
        let (log, seq, stamp) = (entry.log, entry.seq, entry.stamp);
        let before = shown.get(&log).and_then(|s| s.last()).map(|s| (s.seq, s.shown_us));
        let dated = DatedEntry {
            log,
            seq,
            stamp,
            before,
        };
        logs.oddities.extend(dated.oddities(&of_entry(log, seq)));
        let read = readings.iter().filter(|r| r.place == Place { log, seq, index: 0 });
        logs.oddities.extend(read.filter_map(|r| dated.reading_oddity(r.at_us)));
        if let Some(shown_us) = stamp.own_wall_us() {
            shown.entry(log).or_default().push(ShownAt { log, seq, shown_us });
        }
    }
    logs.oddities.extend(met(depot, written, &shown));
    logs.oddities.sort();
    logs
}

/// What is odd about who had seen whom.
fn met(depot: DeviceKey, written: &[Written], shown: &BTreeMap<LogId, Vec<ShownAt>>) -> Vec<Oddity> {
    let shown_at = |log: LogId, seq: u64| {
        let log = shown.get(&log)?;
        log.iter().rfind(|s| s.seq <= seq).copied()
    };
    let mut had: BTreeMap<LogId, VersionVector> = BTreeMap::new();
    let mut found = Vec::new();
    for entry in written {
        let Some(seen) = &entry.seen else { continue };
        let had = had.entry(entry.log).or_default();
        let news: Vec<(LogId, u64)> = seen.iter().filter(|(log, seq)| !had.includes(log, *seq)).collect();
        let own = ShownAt {
            log: entry.log,
            seq: entry.seq,
            shown_us: entry.stamp.wall_us,
        };
        for (log, seq) in news {
            let Some(other) = shown_at(log, seq) else { continue };
            if entry.log.device == depot {
                found.extend(other.seen_by_depot(own));
            } else if log.device == depot && entry.stamp.own_wall_us().is_some() {
                found.extend(own.saw_depot(other));
            }
        }
        *had = VersionVector::clone(seen);
    }
    found
}
