//! Does what was appended come back, the same way by every door, now and after a reopen?

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::LogId;
use proptest::prelude::*;

use super::*;
use crate::AppendError;

/// Without the checkpoints that are left out because the entry has one.
fn as_kept(batches: &[Vec<Kept>]) -> Vec<Kept> {
    let mut signed = std::collections::BTreeSet::new();
    let all = batches.iter().flatten();
    all.filter(|(kind, log, seq, _)| *kind != RecordKind::Checkpoint || signed.insert((*log, *seq)))
        .cloned()
        .collect()
}

fn check_by_every_door(journal: &Journal, expected: &[Kept]) {
    let scanned: Vec<Kept> = journal
        .scan_from(Position::START)
        .flat_map(|b| b.unwrap().records().map(|r| keep(&r)).collect::<Vec<_>>())
        .collect();
    assert_eq!(scanned, expected, "in the order of arrival");

    let mut by_log: BTreeMap<LogId, Vec<(u64, Vec<u8>)>> = BTreeMap::new();
    for (kind, log, seq, bytes) in expected {
        match kind {
            RecordKind::Entry => by_log.entry(*log).or_default().push((*seq, bytes.clone())),
            RecordKind::Checkpoint => {
                assert!(journal.checkpoints(log).contains(seq));
                assert_eq!(journal.read_checkpoint(log, *seq).unwrap().as_ref(), Some(bytes));
            }
            RecordKind::Other(_) => {}
        }
    }
    assert_eq!(
        journal.logs().collect::<Vec<_>>(),
        by_log.keys().copied().collect::<Vec<_>>()
    );
    for (log, entries) in &by_log {
        let head = journal.head_seq(log);
        assert_eq!(head, entries.len() as u64);
        assert_eq!(journal.vector().get(log), head);
        let run: Vec<_> = journal.entries(log, 1, u64::MAX).map(Result::unwrap).collect();
        assert_eq!(&run, entries, "a run of the log");
        let middle: Vec<_> = journal.entries(log, 2, head - 1).map(|e| e.unwrap().0).collect();
        assert_eq!(middle, (2..head).collect::<Vec<_>>());
        for (seq, bytes) in entries {
            assert_eq!(journal.read_entry(log, *seq).unwrap().as_ref(), Some(bytes));
        }
        assert_eq!(journal.read_entry(log, head + 1).unwrap(), None);
        assert_eq!(journal.read_entry(log, 0).unwrap(), None);
    }
    assert_eq!(journal.verify(&mut |_, _| {}).unwrap(), []);
}

#[test]
fn a_day_comes_back_by_every_door() {
    let disk = MemoryDisk::new();
    let mut journal = open(&disk).journal;
    let day = day(40);
    let mut ends = vec![Position::START];
    for batch in &day {
        ends.push(append(&mut journal, batch));
    }
    let expected = as_kept(&day);
    check_by_every_door(&journal, &expected);
    assert!(disk.paths().len() > 3, "several segments: {:?}", disk.paths());

    let again = open(&disk);
    assert_eq!(again.damage, []);
    assert_eq!(again.visited, expected);
    assert_eq!(again.journal.end(), journal.end());
    check_by_every_door(&again.journal, &expected);
    for (i, end) in ends.iter().enumerate() {
        let rest: usize = again
            .journal
            .scan_from(*end)
            .map(|b| b.unwrap().records().count())
            .sum();
        assert_eq!(
            rest,
            expected.len() - as_kept(&day[..i]).len(),
            "what came after batch {i}"
        );
        assert_eq!(again.journal.fingerprint(*end), journal.fingerprint(*end));
        assert!(again.journal.fingerprint(*end).is_some());
    }
}

#[test]
fn on_the_disk_of_the_machine_as_in_memory() {
    let folder = tempfile::tempdir().unwrap();
    let (dir, evidence) = (folder.path().join("log"), folder.path().join("evidence"));
    let day = day(20);
    let (mut journal, damage) = Journal::open(&dir, &evidence, &mut |_, _| panic!("nothing is there yet")).unwrap();
    assert_eq!(damage, []);
    journal.set_floor_bytes(0);
    for batch in &day {
        append(&mut journal, batch);
    }
    drop(journal);
    let mut visited = Vec::new();
    let (journal, damage) = Journal::open(&dir, &evidence, &mut |record, _| visited.push(keep(record))).unwrap();
    assert_eq!(damage, []);
    assert_eq!(visited, as_kept(&day));
    check_by_every_door(&journal, &visited);
}

#[test]
fn records_of_a_kind_from_later_are_carried() {
    let disk = MemoryDisk::new();
    let mut journal = open(&disk).journal;
    let later = (RecordKind::Other(9), log(1), 77, b"from a later version".to_vec());
    let batch = vec![later.clone(), entry(1, 1)];
    append(&mut journal, &batch);
    assert_eq!(open(&disk).visited, batch);
    assert_eq!(journal.head_seq(&log(1)), 1);
}

#[test]
fn what_does_not_follow_is_refused_and_nothing_is_written() {
    let disk = MemoryDisk::new();
    let mut journal = open(&disk).journal;
    let end = append(&mut journal, &[entry(1, 1), entry(1, 2)]);
    for wrong in [0, 1, 2, 4, u64::MAX] {
        let (before, after) = (entry(2, 1), entry(1, wrong));
        let error = journal.append(&[as_record(&before), as_record(&after)]).unwrap_err();
        assert!(
            matches!(error, AppendError::OutOfOrder { expected: 3, found, .. } if found == wrong),
            "entry {wrong}: {error}"
        );
    }
    let ahead = checkpoint(1, 3);
    let error = journal.append(&[as_record(&ahead)]).unwrap_err();
    assert!(
        matches!(error, AppendError::CheckpointAhead { seq: 3, head: 2, .. }),
        "{error}"
    );
    assert_eq!(journal.end(), end);
    assert_eq!(open(&disk).visited, [entry(1, 1), entry(1, 2)]);
}

#[test]
fn a_checkpoint_is_kept_once() {
    let disk = MemoryDisk::new();
    let mut journal = open(&disk).journal;
    append(&mut journal, &[entry(1, 1), checkpoint(1, 1)]);
    let (end, size) = (journal.end(), journal.disk_bytes());
    assert_eq!(append(&mut journal, &[checkpoint(1, 1)]), end);
    assert_eq!(journal.disk_bytes(), size, "nothing was written");
    assert_eq!(append(&mut journal, &[]), end);
}

#[test]
fn the_next_checkpoint_is_found() {
    let disk = MemoryDisk::new();
    let mut journal = open(&disk).journal;
    let batch: Vec<Kept> = (1..=9)
        .map(|seq| entry(1, seq))
        .chain([checkpoint(1, 7), checkpoint(1, 3)])
        .collect();
    append(&mut journal, &batch);
    assert_eq!(journal.checkpoints(&log(1)), [3, 7]);
    assert_eq!(journal.newest_checkpoint(&log(1)), Some(7));
    let from: Vec<_> = [1, 3, 4, 8].map(|seq| journal.checkpoint_from(&log(1), seq)).into();
    assert_eq!(from, [Some(3), Some(3), Some(7), None]);
}

#[test]
fn a_batch_larger_than_a_segment_has_one_for_itself() {
    let disk = MemoryDisk::new();
    let mut journal = open(&disk).journal;
    let large = (RecordKind::Entry, log(1), 2, vec![7; 5000]);
    for batch in [[entry(1, 1)], [large.clone()], [entry(1, 3)]] {
        append(&mut journal, &batch);
    }
    let again = open(&disk);
    assert_eq!((again.visited.len(), again.damage), (3, vec![]));
    let read: Vec<_> = again
        .journal
        .entries(&log(1), 1, 9)
        .map(|entry| entry.unwrap().1.len())
        .collect();
    assert_eq!(read, [body(1, 1).len(), 5000, body(1, 3).len()]);
    assert_eq!(again.journal.read_entry(&log(1), 2).unwrap(), Some(large.3));

    let too_large = vec![0; 17 << 20];
    let error = journal.append(&[Record::entry(log(1), 4, &too_large)]).unwrap_err();
    assert!(matches!(error, AppendError::TooLarge { .. }), "{error}");
}

#[test]
fn below_the_floor_nothing_is_written() {
    let disk = MemoryDisk::new();
    let mut journal = open(&disk).journal;
    journal.set_floor_bytes(10_000);
    disk.set_free_bytes(9_999);
    let first = entry(1, 1);
    let error = journal.append(&[as_record(&first)]).unwrap_err();
    assert!(
        error.is_disk_full() && matches!(error, AppendError::DiskLow { free: 9_999, .. }),
        "{error}"
    );
    assert_eq!(disk.paths(), [] as [std::path::PathBuf; 0]);
    disk.set_free_bytes(20_000);
    append(&mut journal, &[first]);
}

/// Some batches; seqs are filled in so that they follow.
fn any_batches() -> impl Strategy<Value = Vec<Vec<Kept>>> {
    let record = (0u8..4, 0u8..12, proptest::collection::vec(any::<u8>(), 0..200));
    let batches = proptest::collection::vec(proptest::collection::vec(record, 1..12), 1..30);
    batches.prop_map(|batches| {
        let mut heads = [0u64; 4];
        let mut number = |n: u8, kind: u8, bytes: Vec<u8>| {
            let head = &mut heads[usize::from(n)];
            match kind {
                0 if *head > 0 => (RecordKind::Checkpoint, log(n), *head, bytes),
                1 => (RecordKind::Other(200 + n), log(n), u64::from(kind), bytes),
                _ => {
                    *head += 1;
                    (RecordKind::Entry, log(n), *head, bytes)
                }
            }
        };
        batches
            .into_iter()
            .map(|b| b.into_iter().map(|(n, k, bytes)| number(n, k, bytes)).collect())
            .collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn any_batches_come_back(batches in any_batches(), reopen_every in 1usize..10) {
        let disk = MemoryDisk::new();
        let mut journal = open(&disk).journal;
        for (i, batch) in batches.iter().enumerate() {
            append(&mut journal, batch);
            if i % reopen_every == 0 {
                journal = open(&disk).journal;
            }
        }
        let expected: Vec<Kept> = as_kept(&batches);
        let again = try_open(Arc::new(disk.clone()), small()).unwrap();
        prop_assert_eq!(&again.damage, &[]);
        prop_assert_eq!(&again.visited, &expected);
        check_by_every_door(&journal, &expected);
        check_by_every_door(&again.journal, &expected);
    }
}

#[test]
fn the_store_can_be_shared_between_threads() {
    fn shared<T: Send + Sync>() {}
    shared::<Journal>();
    shared::<crate::Index>();
    shared::<crate::Pictures>();
    shared::<crate::Home>();
}
