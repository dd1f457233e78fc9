//! When does a device count as being at work in more than one copy?

use super::*;
use crate::governance::Record;
use crate::{Body, DeviceSecret};

fn secret() -> DeviceSecret {
    DeviceSecret::from_seed(&[1; 32])
}

fn log(incarnation: u64) -> LogId {
    LogId {
        device: secret().public(),
        incarnation,
    }
}

fn write(book: &mut Book, incarnation: u64, record: Option<Record>) {
    book.write_as(secret(), log(incarnation));
    let note = Body::Loose(vec![r#"{"kind":"note","text":"x"}"#.into()]);
    let body = record.map_or(note, |r| Body::Governance(r.encode().unwrap()));
    let new = book.write(vec![body], 1).unwrap();
    book.apply(new);
}

/// A book with a log of three entries, of which `born` (after which log, at which place) tell the later ones.
fn book(born: &[(u64, u64, Option<u64>)]) -> Book {
    let mut book = Book::new(Some(secret().public()));
    (0..3).for_each(|_| write(&mut book, 1, None));
    for (incarnation, after, at) in born {
        let record = Record::Incarnation {
            after: log(*after).to_string(),
            at: *at,
            why: "copied".into(),
        };
        write(&mut book, *incarnation, Some(record));
    }
    book
}

fn found(book: &Book) -> Vec<Branching> {
    let held = book.vector();
    branchings(book.roster(), &|log, seq| held.includes(log, seq))
}

fn told(book: &Book) -> Vec<(u64, u64, Vec<u64>)> {
    let numbers = |logs: &[LogId]| logs.iter().map(|l| l.incarnation).collect();
    let found = found(book);
    found
        .iter()
        .map(|b| (b.log.incarnation, b.after, numbers(&b.later)))
        .collect()
}

#[test]
fn a_home_that_moved_is_one_home() {
    let mut moved = book(&[(20, 1, Some(3)), (30, 20, Some(1))]);
    write(&mut moved, 30, None);
    assert_eq!(told(&moved), []);
    assert_eq!(surely_held_by(&moved, &secret().public()), moved.vector());
}

#[test]
fn a_log_that_goes_on_beside_its_copy_branches() {
    let mut copied = book(&[(20, 1, Some(3))]);
    write(&mut copied, 1, None);
    assert_eq!(told(&copied), [(1, 3, vec![20])]);
    let evidence = &found(&copied)[0].evidence;
    assert_eq!(*evidence, [(log(20), 1), (log(1), 4)]);
    // Restored: it held two entries of its log, peers held the third.
    assert_eq!(told(&book(&[(20, 1, Some(2))])), [(1, 2, vec![20])]);
}

#[test]
fn two_logs_that_go_on_from_one_branch_unless_damage_was_the_reason_of_both() {
    assert_eq!(
        told(&book(&[(20, 1, Some(3)), (30, 1, Some(3))])),
        [(1, 3, vec![20, 30])]
    );
    assert_eq!(told(&book(&[(20, 1, None), (30, 1, Some(3))])), [(1, 3, vec![20, 30])]);
    assert_eq!(told(&book(&[(20, 1, None), (30, 1, None)])), []);
    assert_eq!(
        told(&book(&[(20, 1, None)])),
        [],
        "damage, and peers gave back what was lost"
    );
    let three = book(&[(20, 1, Some(3)), (30, 1, Some(3)), (40, 1, Some(3))]);
    assert_eq!(told(&three).len(), 3, "each pair");
}

#[test]
fn only_a_device_can_say_so_of_itself() {
    let stranger = DeviceSecret::from_seed(&[2; 32]).public();
    let mut book = book(&[]);
    for after in [
        LogId {
            device: stranger,
            ..log(1)
        }
        .to_string(),
        log(20).to_string(),
        "nonsense".into(),
    ] {
        let (at, why) = (Some(0), String::new());
        write(&mut book, 20, Some(Record::Incarnation { after, at, why }));
    }
    assert_eq!(told(&book), []);
}

/// Each copy knows what the other does not: only what both know is certain.
#[test]
fn what_a_device_in_two_copies_holds_is_what_both_hold() {
    let mut copied = book(&[(20, 1, Some(3))]);
    write(&mut copied, 20, None);
    // The original, which has not heard of the copy, as its own book has it.
    let mut original = book(&[]);
    write(&mut original, 1, None);
    let mut depot = Book::new(Some(secret().public()));
    for (book, logs) in [(&original, [1].as_slice()), (&copied, &[20])] {
        for log in logs.iter().map(|n| log(*n)) {
            let seen = (1..=book.head(&log).0).map(|seq| (seq, VersionVector::clone(&book.seen_at(&log, seq))));
            for (seq, seen) in seen.collect::<Vec<_>>() {
                let record = book.roster().incarnations().get(&log).filter(|born| born.seq == seq);
                let body = record.map(|born| Record::Incarnation {
                    after: born.after.to_string(),
                    at: born.at,
                    why: String::new(),
                });
                let entry = crate::Entry {
                    previous: crate::entry::EntryHash::ZERO,
                    seq,
                    stamp: gladhand_facts::Stamp::default(),
                    seen,
                    body: body.map_or(Body::Loose(Vec::new()), |r| Body::Governance(r.encode().unwrap())),
                };
                depot.replay_entry(log, seq, &entry.encode()).unwrap();
            }
        }
    }
    assert_eq!(told(&depot), [(1, 3, vec![20])]);
    let held = surely_held_by(&depot, &secret().public());
    assert_eq!((held.get(&log(1)), held.get(&log(20))), (3, 0));
}
