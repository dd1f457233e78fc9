//! A journal before anything happened to it, and what must hold after something did.

use std::collections::BTreeMap;
use std::ops::Range;
use std::path::PathBuf;

use super::*;
use crate::segment::{HEADER_LEN, file_name};
use crate::{DamageKind, Lost};

/// A journal before anything happened to it.
pub(crate) struct Whole {
    pub(crate) disk: MemoryDisk,
    /// Per batch the segment, where it stands in it, and its records.
    pub(crate) batches: Vec<(u32, Range<usize>, Vec<Kept>)>,
    pub(crate) end: Position,
    pub(crate) fingerprint: u64,
}

impl Whole {
    pub(crate) fn new() -> Self {
        let disk = MemoryDisk::new();
        let mut journal = open(&disk).journal;
        let day = day(30);
        for batch in &day {
            append(&mut journal, batch);
        }
        let (end, fingerprint) = (journal.end(), journal.fingerprint(journal.end()).unwrap());
        let mut batches: Vec<(u32, Range<usize>, Vec<Kept>)> = Vec::new();
        for batch in journal.scan_from(Position::START).map(Result::unwrap) {
            let records: Vec<Kept> = batch.records().map(|record| keep(&record)).collect();
            let Position { segment, offset } = batch.end();
            let before = batches.last().filter(|(number, ..)| *number == segment);
            let start = before.map_or(HEADER_LEN, |(_, span, _)| span.end);
            batches.push((segment, start..offset as usize, records));
        }
        Self {
            disk,
            batches,
            end,
            fingerprint,
        }
    }

    pub(crate) fn segments(&self) -> u32 {
        self.end.segment
    }

    pub(crate) fn bytes(&self, segment: u32) -> Vec<u8> {
        self.disk.bytes(&path(segment)).unwrap()
    }

    pub(crate) fn records(&self) -> Vec<Kept> {
        self.batches
            .iter()
            .flat_map(|(_, _, records)| records.clone())
            .collect()
    }

    /// What must still be handed out when some batches are gone, and per log what was seen beyond its end.
    pub(crate) fn without(&self, gone: impl Fn(u32, &Range<usize>) -> bool) -> (Vec<Kept>, BTreeMap<LogId, u64>) {
        let mut heads: BTreeMap<LogId, u64> = BTreeMap::new();
        let mut beyond: BTreeMap<LogId, u64> = BTreeMap::new();
        let mut kept = Vec::new();
        let left = self.batches.iter().filter(|(segment, span, _)| !gone(*segment, span));
        for record in left.flat_map(|(_, _, records)| records) {
            let head = heads.entry(record.1).or_default();
            let follows = match record.0 {
                RecordKind::Entry => record.2 == *head + 1,
                _ => record.2 <= *head,
            };
            if follows {
                *head = (*head).max(record.2);
                kept.push(record.clone());
            } else {
                let last = beyond.entry(record.1).or_default();
                *last = (*last).max(record.2);
            }
        }
        (kept, beyond)
    }
}

pub(crate) fn path(segment: u32) -> PathBuf {
    Path::new(DIR).join(file_name(segment))
}

/// A copy of a disk as it is.
pub(crate) fn copy(disk: &MemoryDisk) -> MemoryDisk {
    disk.after(crate::testing::Crash::Process)
}

/// Whether the bytes are somewhere in a file of the evidence.
fn is_in_evidence(disk: &MemoryDisk, damage: &Damage, found: &[u8]) -> bool {
    if found.is_empty() {
        return true;
    }
    let kept = damage
        .evidence
        .as_ref()
        .and_then(|path| disk.bytes(path))
        .unwrap_or_default();
    damage.evidence.as_ref().is_some_and(|path| path.starts_with(EVIDENCE))
        && kept.windows(found.len()).any(|w| w == found)
}

fn check_lost(opened: &Opened, beyond: &BTreeMap<LogId, u64>, whole: &Whole, case: &str) {
    let lost: Vec<Lost> = opened.damage.iter().flat_map(|damage| damage.lost.clone()).collect();
    let ready = opened.journal.ready();
    assert!(ready.is_empty(), "{case}: what waits stands behind a gap: {ready:?}");
    for Lost { log, from, to } in &lost {
        assert!(*from > opened.journal.head_seq(log), "{case}: {from} is here");
        let last = whole.records().iter().filter(|r| r.1 == *log).map(|r| r.2).max();
        assert!(
            to.is_none_or(|to| to >= *from && Some(to) <= last),
            "{case}: {to:?} of {last:?}"
        );
    }
    for (log, last) in beyond {
        for seq in opened.journal.head_seq(log) + 1..=*last {
            let waits = opened.journal.read_waiting(log, seq).unwrap();
            let is_lost = |lost: &&Lost| lost.log == *log && lost.from <= seq && lost.to.is_none_or(|to| seq <= to);
            let named = lost.iter().filter(is_lost).count();
            let case = format!("{case}: entry {seq} of {log:?}, {lost:?}");
            assert_eq!(
                named,
                usize::from(waits.is_none()),
                "{case}: it waits, or is named once"
            );
            assert!(
                waits.is_none_or(|bytes| whole.records().contains(&(RecordKind::Entry, *log, seq, bytes))),
                "{case}"
            );
        }
    }
}

/// Opens a damaged disk, checks everything that can be said of the result, and returns it.
pub(crate) fn check(whole: &Whole, disk: &MemoryDisk, gone: impl Fn(u32, &Range<usize>) -> bool, case: &str) -> Opened {
    let before: Vec<(PathBuf, Vec<u8>)> = disk
        .paths()
        .into_iter()
        .map(|p| (p.clone(), disk.bytes(&p).unwrap()))
        .collect();
    let opened = open(disk);
    let (kept, beyond) = whole.without(gone);
    assert!(
        opened.visited == kept,
        "{case}: exactly the untouched ones that follow, not {:?} but {:?}",
        brief(&kept),
        brief(&opened.visited)
    );
    check_lost(&opened, &beyond, whole, case);
    for damage in &opened.damage {
        assert!(
            damage.to_string().contains(&file_name(damage.segment)),
            "{case}: the file is named"
        );
        let Some((_, bytes)) = before.iter().find(|(path, _)| *path == damage.file) else {
            assert_eq!((damage.kind, damage.bytes), (DamageKind::Missing, 0), "{case}");
            continue;
        };
        let found = &bytes[damage.offset as usize..(damage.offset + damage.bytes) as usize];
        assert!(is_in_evidence(disk, damage, found), "{case}: evidence of {damage}");
    }
    check_healed(whole, disk, &opened, case);
    opened
}

/// A second open finds nothing wrong, and what is missing can come back.
pub(crate) fn check_healed(whole: &Whole, disk: &MemoryDisk, opened: &Opened, case: &str) {
    let mut again = open(disk);
    assert_eq!(again.damage, [], "{case}: the second open is clean");
    assert_eq!(again.visited, opened.visited, "{case}");
    assert_eq!(again.journal.end(), opened.journal.end(), "{case}");
    assert_eq!(again.journal.verify(&mut |_, _| {}).unwrap(), [], "{case}");
    let all_there = opened.visited.len() == whole.records().len();
    let is_harmless = |damage: &Damage| matches!(damage.kind, DamageKind::TornTail | DamageKind::Repaired);
    if !all_there || !opened.damage.iter().all(is_harmless) {
        let now = again.journal.fingerprint(whole.end);
        assert_ne!(now, Some(whole.fingerprint), "{case}: what was derived before can tell");
    }
    // As a peer would send them: all of each log from its head on.
    let missing: Vec<Kept> = whole
        .records()
        .into_iter()
        .filter(|record| record.2 > again.journal.head_seq(&record.1))
        .collect();
    append(&mut again.journal, &missing);
    let refilled = open(disk);
    assert_eq!(refilled.damage, [], "{case}: refilled");
    for record in whole.records().iter().filter(|record| record.0 == RecordKind::Entry) {
        assert_eq!(
            refilled.journal.read_entry(&record.1, record.2).unwrap().as_ref(),
            Some(&record.3),
            "{case}: refilled"
        );
    }
}
