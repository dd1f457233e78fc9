//! Documents converge, strip without loss, and survive bytes that nobody honest writes.

use super::apply::check_readable;
use super::*;
use gladhand_facts::DeviceKey;
use proptest::prelude::*;

fn log(n: u8) -> LogId {
    LogId {
        device: DeviceKey([n; 32]),
        incarnation: 1,
    }
}

fn fact_of(n: u8, line: &str) -> Fact {
    Fact::from_line(&DeviceKey([n; 32]), line).unwrap()
}

#[test]
fn two_devices_write_one_job_and_agree() {
    let mut a = JobDoc::new("J1").unwrap();
    let open = fact_of(1, r#"{"kind":"job","job":"J1","trailer":"LF 5312","load":"empty"}"#);
    let first = a.write(log(1), 1, 100, std::slice::from_ref(&open)).unwrap();
    let mut b = JobDoc::load("J1", [((log(1), 1), first.as_slice())]).unwrap();

    let on_a = fact_of(1, r#"{"kind":"job","job":"J1","load":"loaded"}"#);
    let on_b = fact_of(2, r#"{"kind":"job","job":"J1","load":"empty","wall":"plate"}"#);
    let from_a = a.write(log(1), 2, 200, &[on_a]).unwrap();
    let from_b = b.write(log(2), 1, 200, &[on_b]).unwrap();
    a.add((log(2), 1), &from_b);
    b.add((log(1), 2), &from_a);
    assert!(a.set_aside().is_empty() && b.set_aside().is_empty());

    assert_eq!(a.heads(), b.heads());
    assert_eq!(a.field_values().unwrap(), b.field_values().unwrap());
    let load = &a.field_values().unwrap()["load"];
    assert_eq!(load.len(), 2, "both values stay: {load:?}");
    assert_eq!(a.fact_texts().len(), 3);
    assert_eq!(facts_in(&log(1), &first).unwrap(), [open]);
}

#[test]
fn the_first_change_is_the_same_everywhere_and_differs_by_job() {
    let (mut a, mut b, mut c) = (
        JobDoc::new("J1").unwrap(),
        JobDoc::new("J1").unwrap(),
        JobDoc::new("J2").unwrap(),
    );
    assert_eq!(a.heads(), b.heads());
    assert_ne!(a.heads(), c.heads());
}

#[test]
fn a_bad_change_is_set_aside_and_the_rest_goes_on() {
    let mut a = JobDoc::new("J1").unwrap();
    let note = |i: u32| fact_of(1, &format!(r#"{{"kind":"note","job":"J1","text":"n{i}"}}"#));
    let one = a.write(log(1), 1, 1, &[note(1)]).unwrap();
    let two = a.write(log(1), 2, 2, &[note(2)]).unwrap();
    let other = JobDoc::load("J1", [((log(1), 1), one.as_slice())])
        .unwrap()
        .write(log(2), 1, 3, &[note(3)])
        .unwrap();
    let mut broken = two.clone();
    broken.truncate(broken.len() / 2);
    let doc = JobDoc::load(
        "J1",
        [
            ((log(1), 1), one.as_slice()),
            ((log(1), 2), &broken),
            ((log(2), 1), &other),
        ],
    )
    .unwrap();
    assert_eq!(doc.set_aside().len(), 1);
    assert_eq!(doc.len(), 2);
    // The same actor and sequence number twice with other content: what a cloned disk would write.
    let clone = JobDoc::new("J1").unwrap().write(log(1), 2, 9, &[note(4)]).unwrap();
    let doc = JobDoc::load("J1", [((log(1), 1), one.as_slice()), ((log(1), 2), &clone)]).unwrap();
    assert_eq!((doc.len(), doc.set_aside().len()), (1, 1));
}

/// A change that skips to the end of the operation counter would leave no number for anybody's work on that job.
#[test]
fn a_change_that_skips_operation_numbers_is_set_aside() {
    let note = |n: u8, i: u32| fact_of(n, &format!(r#"{{"kind":"note","job":"J1","text":"n{i}"}}"#));
    let one = JobDoc::new("J1").unwrap().write(log(1), 1, 1, &[note(1, 1)]).unwrap();
    assert_eq!(one[..4], [1, 0, 1, 4], "on the beginning, its first, from operation 4");
    for start in [
        vec![3],
        vec![5],
        vec![0x80, 0x80, 0x80, 0x08],
        vec![0xff, 0xff, 0xff, 0xff, 0x0f],
    ] {
        let skipping = [&one[..3], &start, &one[4..]].concat();
        let mut doc = JobDoc::load("J1", [((log(1), 1), skipping.as_slice())]).unwrap();
        assert_eq!((doc.len(), doc.set_aside().len()), (0, 1), "{start:?}");
        doc.write(log(2), 1, 2, &[note(2, 2)]).unwrap();
    }
}

/// Every change of one bit: whether a document is loaded at once or change by change, it takes the same ones, and whatever it
/// takes can be saved and read back.
#[test]
fn what_cannot_be_read_back_is_set_aside_by_load_and_by_add() {
    let job = |line: &str| fact_of(1, line);
    let mut a = JobDoc::new("J1").unwrap();
    let opened = job(r#"{"kind":"job","job":"J1","trailer":"LF 1","load":"empty"}"#);
    let first = a.write(log(1), 1, 5, &[opened]).unwrap();
    let loaded = job(r#"{"kind":"job","job":"J1","trailer":"LF 1","load":"loaded"}"#);
    let second = a.write(log(1), 2, 6, &[loaded]).unwrap();
    let (mut taken, mut set_aside) = (0, 0);
    for (at, bit) in (0..second.len()).flat_map(|at| (0..8).map(move |bit| (at, bit))) {
        let mut changed = second.clone();
        changed[at] ^= 1 << bit;
        let both = [((log(1), 1), first.as_slice()), ((log(1), 2), changed.as_slice())];
        let mut at_once = JobDoc::load("J1", both).unwrap();
        let mut one_by_one = JobDoc::new("J1").unwrap();
        both.iter().for_each(|(place, change)| one_by_one.add(*place, change));
        let told = |doc: &mut JobDoc| (doc.len(), doc.set_aside().len(), doc.heads());
        assert_eq!(told(&mut at_once), told(&mut one_by_one), "byte {at}, bit {bit}");
        let saved = at_once.save().unwrap();
        check_readable(&saved, &at_once.doc.get_heads()).unwrap_or_else(|e| panic!("byte {at}, bit {bit}: {e}"));
        (taken, set_aside) = (taken + at_once.len() - 1, set_aside + at_once.set_aside().len());
    }
    assert!(taken > 100 && set_aside > 100, "{taken} taken, {set_aside} set aside");
}

/// Automerge itself accepts a change whose dependency is missing, and keeps it for later without a word.
#[test]
fn a_change_that_is_not_in_the_document_afterwards_is_refused() {
    let mut a = JobDoc::new("J1").unwrap();
    let note = |i: u32| fact_of(1, &format!(r#"{{"kind":"note","job":"J1","text":"n{i}"}}"#));
    a.write(log(1), 1, 1, &[note(1)]).unwrap();
    let second = a.write(log(1), 2, 2, &[note(2)]).unwrap();
    let second = a.rebuild(&log(1), &second).unwrap();
    let mut without_the_first = JobDoc::new("J1").unwrap().doc;
    assert!(apply(&mut without_the_first, vec![second]).is_err());
}

#[test]
fn a_saved_document_with_other_heads_is_refused() {
    let mut doc = JobDoc::new("J1").unwrap();
    let before = doc.save().unwrap();
    assert_eq!(check_readable(&before, &doc.doc.get_heads()), Ok(()));
    let note = fact_of(1, r#"{"kind":"note","job":"J1","text":"n"}"#);
    doc.write(log(1), 1, 1, &[note]).unwrap();
    assert!(check_readable(&before, &doc.doc.get_heads()).is_err());
}

#[test]
fn a_missing_dependency_is_named() {
    let mut a = JobDoc::new("J1").unwrap();
    let note = fact_of(1, r#"{"kind":"note","job":"J1","text":"n"}"#);
    a.write(log(1), 1, 1, std::slice::from_ref(&note)).unwrap();
    let two = a
        .write(log(1), 2, 2, &[fact_of(1, r#"{"kind":"note","job":"J1","text":"m"}"#)])
        .unwrap();
    let doc = JobDoc::load("J1", [((log(1), 2), two.as_slice())]).unwrap();
    assert_eq!(
        doc.set_aside()[0].1,
        DocError::MissingDependency { log: log(1), seq: 1 }
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Random writers on random subsets: whatever the order of adding, heads, fields and facts agree.
    #[test]
    fn documents_converge(steps in proptest::collection::vec((0usize..3, 0usize..3, 0u8..4), 1..24)) {
        let mut docs: Vec<JobDoc> = (0..3).map(|_| JobDoc::new("J").unwrap()).collect();
        let mut written: Vec<(EntryPlace, Vec<u8>)> = Vec::new();
        let mut has: Vec<Vec<usize>> = vec![Vec::new(); 3];
        let mut seqs = [0u64; 3];
        for (i, (writer, other, value)) in steps.into_iter().enumerate() {
            for n in has[other].clone() {
                if !has[writer].contains(&n) {
                    let (place, change) = &written[n];
                    docs[writer].add(*place, change);
                    has[writer].push(n);
                }
            }
            seqs[writer] += 1;
            let me = log(writer as u8 + 1);
            let line = format!(r#"{{"kind":"job","job":"J","load":"{}","n":{i},"thickness":"{value} in"}}"#,
                if value % 2 == 0 { "empty" } else { "loaded" });
            let change = docs[writer].write(me, seqs[writer], i as i64, &[fact_of(writer as u8 + 1, &line)]).unwrap();
            has[writer].push(written.len());
            written.push(((me, seqs[writer]), change));
        }
        let all = written.iter().map(|(place, change)| (*place, change.as_slice()));
        let mut whole = JobDoc::load("J", all).unwrap();
        prop_assert!(whole.set_aside().is_empty(), "{:?}", whole.set_aside());
        for (writer, doc) in docs.iter_mut().enumerate() {
            for (n, (place, change)) in written.iter().enumerate() {
                if !has[writer].contains(&n) {
                    doc.add(*place, change);
                }
            }
            prop_assert_eq!(doc.heads(), whole.heads());
            prop_assert_eq!(doc.field_values(), whole.field_values());
            prop_assert_eq!(doc.fact_texts(), whole.fact_texts());
        }
        let reread: usize = written.iter().map(|(p, c)| facts_in(&p.0, c).unwrap().len()).sum();
        prop_assert_eq!(reread, whole.fact_texts().len());
    }

    /// Bytes changed after the fact, checksum made right again by the rebuild: refused or harmless, never a panic.
    #[test]
    fn changed_bytes_never_panic(at: prop::sample::Index, flip in 1u8..) {
        let mut a = JobDoc::new("J").unwrap();
        let mut change = a.write(log(1), 1, 5, &[fact_of(1, r#"{"kind":"job","job":"J","trailer":"LF 1"}"#)]).unwrap();
        let at = at.index(change.len());
        change[at] ^= flip;
        let _ = facts_in(&log(1), &change);
        let _ = JobDoc::load("J", [((log(1), 1), change.as_slice())]);
    }
}
