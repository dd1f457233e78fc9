//! Hashes inside a run, and which checkpoints make it trustworthy.

use super::*;
use crate::book::{Book, NewRecord};
use crate::entry::Body;
use crate::keys::DeviceSecret;

/// Entries 3 to 6 of a log, with the signature of its last one, and the hashes of entries 1 to 6.
fn run() -> (DeviceSecret, EntryRun, Vec<EntryHash>) {
    let secret = || DeviceSecret::from_seed(&[1; 32]);
    let log = LogId {
        device: secret().public(),
        incarnation: 1,
    };
    let mut book = Book::new(Some(log.device));
    book.write_as(secret(), log);
    let bodies = (0..6).map(|n| Body::Loose(vec![format!(r#"{{"kind":"note","text":"{n}"}}"#)]));
    let new = book.write(bodies.collect(), 1).unwrap();
    let (mut hashes, mut entries, mut checkpoints) = (Vec::new(), Vec::new(), Vec::new());
    for record in new.records {
        match record {
            NewRecord::Entry { bytes, .. } => {
                hashes.push(entry::hash(&log, &bytes));
                let (format, tail) = entry::without_previous(&bytes).unwrap();
                entries.push((format, tail.to_vec()));
            }
            NewRecord::Checkpoint(checkpoint) => checkpoints.push(checkpoint),
        }
    }
    let run = EntryRun {
        log,
        first: 3,
        previous: hashes[1],
        entries: entries.split_off(2),
        checkpoints,
    };
    (secret(), run, hashes)
}

#[test]
fn a_run_knows_the_hashes_from_the_entry_before_it_to_its_last() {
    let (_, run, hashes) = run();
    let chained = run.chained();
    for seq in 0..9u64 {
        let wanted = (2..=6).contains(&seq).then(|| hashes[seq as usize - 1]);
        assert_eq!(chained.hash_at(seq), wanted, "place {seq}");
    }
    let places: Vec<u64> = chained.into_entries().map(|(seq, ..)| seq).collect();
    assert_eq!(places, [3, 4, 5, 6]);
}

#[test]
fn every_checkpoint_of_a_run_must_be_good_and_one_must_be_at_its_end() {
    let (secret, good, hashes) = run();
    assert!(good.chained().is_vouched_for());
    let with = |checkpoints: Vec<Checkpoint>| EntryRun {
        checkpoints,
        ..good.clone()
    };
    let sign = |seq: u64| Checkpoint::sign(&secret, good.log, seq, &hashes[seq as usize - 1]);
    assert!(with(vec![sign(4), sign(6)]).chained().is_vouched_for());
    assert!(!with(vec![]).chained().is_vouched_for());
    assert!(!with(vec![sign(4)]).chained().is_vouched_for(), "not at the end");
    assert!(
        !with(vec![sign(2), sign(6)]).chained().is_vouched_for(),
        "before the run"
    );
    let wrong = Checkpoint::sign(&secret, good.log, 4, &hashes[4]);
    assert!(
        !with(vec![wrong, sign(6)]).chained().is_vouched_for(),
        "of another hash"
    );
}
