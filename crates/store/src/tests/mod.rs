//! Stories that cross modules. Each file is one question asked of the store.

mod damage;
mod kill;
mod many_corruptions;
mod round_trip;
mod whole;

use std::path::Path;
use std::sync::Arc;

use gladhand_facts::{DeviceKey, LogId};

use crate::testing::MemoryDisk;
use crate::{Damage, Disk, Journal, OpenError, Options, Position, Record, RecordKind};

/// What a test keeps of a record.
pub(crate) type Kept = (RecordKind, LogId, u64, Vec<u8>);

pub(crate) const DIR: &str = "/home/log";
pub(crate) const EVIDENCE: &str = "/home/evidence";

pub(crate) fn log(n: u8) -> LogId {
    LogId {
        device: DeviceKey([n; 32]),
        incarnation: 1 + u64::from(n) * 300,
    }
}

pub(crate) fn keep(record: &Record<'_>) -> Kept {
    (record.kind, record.log, record.seq, record.bytes.to_vec())
}

pub(crate) fn as_record(kept: &Kept) -> Record<'_> {
    Record {
        kind: kept.0,
        log: kept.1,
        seq: kept.2,
        bytes: &kept.3,
    }
}

/// Small segments, so that a test crosses their borders.
pub(crate) fn small() -> Options {
    Options {
        segment_bytes: 1500,
        floor_bytes: 0,
    }
}

pub(crate) struct Opened {
    pub(crate) journal: Journal,
    pub(crate) damage: Vec<Damage>,
    pub(crate) visited: Vec<Kept>,
}

pub(crate) fn try_open(disk: Arc<dyn Disk>, options: Options) -> Result<Opened, OpenError> {
    let mut visited = Vec::new();
    let mut last = Position::START;
    let mut visit = |record: &Record<'_>, position: Position| {
        assert!(position >= last, "positions grow with arrival");
        last = position;
        visited.push(keep(record));
    };
    let (journal, damage) = Journal::open_on(disk, Path::new(DIR), Path::new(EVIDENCE), options, &mut visit)?;
    Ok(Opened {
        journal,
        damage,
        visited,
    })
}

pub(crate) fn open(disk: &MemoryDisk) -> Opened {
    try_open(Arc::new(disk.clone()), small()).unwrap()
}

/// Bytes that differ from entry to entry.
pub(crate) fn body(log: u8, seq: u64) -> Vec<u8> {
    let seed = seq % 100_000 * 13 + u64::from(log) * 11;
    (0..20 + seed % 90).map(|i| (i * 7 + seed) as u8).collect()
}

pub(crate) fn entry(n: u8, seq: u64) -> Kept {
    (RecordKind::Entry, log(n), seq, body(n, seq))
}

pub(crate) fn checkpoint(n: u8, seq: u64) -> Kept {
    (RecordKind::Checkpoint, log(n), seq, body(n, seq + 1000))
}

pub(crate) fn append(journal: &mut Journal, batch: &[Kept]) -> Position {
    let records: Vec<Record<'_>> = batch.iter().map(as_record).collect();
    journal.append(&records).unwrap()
}

/// A day: three logs in batches of one or several, now and then a checkpoint.
pub(crate) fn day(batches: u64) -> Vec<Vec<Kept>> {
    let mut heads = [0u64; 3];
    let mut day = Vec::new();
    for i in 0..batches {
        let mut batch = Vec::new();
        for (n, head) in heads.iter_mut().enumerate() {
            let n = n as u8;
            for _ in 0..(i + u64::from(n)) % 3 {
                *head += 1;
                batch.push(entry(n, *head));
            }
            if i % 4 == u64::from(n) && *head > 0 {
                batch.push(checkpoint(n, *head));
            }
        }
        day.push(batch);
    }
    day
}

/// For messages.
pub(crate) fn brief(records: &[Kept]) -> Vec<String> {
    records
        .iter()
        .map(|(kind, log, seq, _)| format!("{kind:?} {}/{seq}", log.device.0[0]))
        .collect()
}

/// Whether `part` is what remains of `whole` when some of its elements are left out.
pub(crate) fn is_part_of(part: &[Kept], whole: &[Kept]) -> bool {
    let mut rest = whole.iter();
    part.iter().all(|kept| rest.any(|other| other == kept))
}
