//! What is left when something gnaws at the segments?
//!
//! The matrix: (what is done to the bytes) x (where) x (which segment). After each case: no panic, the
//! untouched batches are there as far as they follow their logs, the damage is named and its bytes are among
//! the evidence, a second open finds nothing wrong, and what is lost can be appended again.

use std::collections::BTreeMap;
use std::ops::Range;
use std::path::{Path, PathBuf};

use proptest::prelude::*;

use super::*;
use crate::segment::{HEADER_LEN, file_name};
use crate::{DamageKind, Lost};

/// A journal before anything happened to it.
struct Whole {
    disk: MemoryDisk,
    /// Per batch the segment, where it stands in it, and its records.
    batches: Vec<(u32, Range<usize>, Vec<Kept>)>,
    end: Position,
    fingerprint: u64,
}

impl Whole {
    fn new() -> Self {
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

    fn segments(&self) -> u32 {
        self.end.segment
    }

    fn bytes(&self, segment: u32) -> Vec<u8> {
        self.disk.bytes(&path(segment)).unwrap()
    }

    fn records(&self) -> Vec<Kept> {
        self.batches
            .iter()
            .flat_map(|(_, _, records)| records.clone())
            .collect()
    }

    /// What must still be handed out when some batches are gone, and per log what was seen beyond its end.
    fn without(&self, gone: impl Fn(u32, &Range<usize>) -> bool) -> (Vec<Kept>, BTreeMap<LogId, u64>) {
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

fn path(segment: u32) -> PathBuf {
    Path::new(DIR).join(file_name(segment))
}

/// A copy of a disk as it is.
fn copy(disk: &MemoryDisk) -> MemoryDisk {
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
    for Lost { log, from, to } in &lost {
        assert_eq!(
            *from,
            opened.journal.head_seq(log) + 1,
            "{case}: from the first that is missing"
        );
        let last = whole.records().iter().filter(|r| r.1 == *log).map(|r| r.2).max();
        assert!(
            to.is_none_or(|to| to >= *from && Some(to) <= last),
            "{case}: {to:?} of {last:?}"
        );
    }
    for (log, last) in beyond
        .iter()
        .filter(|(log, last)| **last > opened.journal.head_seq(log))
    {
        let named = lost.iter().filter(|lost| lost.log == *log).collect::<Vec<_>>();
        assert!(
            matches!(named.as_slice(), [Lost { to, .. }] if to.is_none_or(|to| to >= *last)),
            "{case}: {log:?} {named:?}"
        );
    }
}

/// Opens a damaged disk, checks everything that can be said of the result, and returns it.
fn check(whole: &Whole, disk: &MemoryDisk, gone: impl Fn(u32, &Range<usize>) -> bool, case: &str) -> Opened {
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
fn check_healed(whole: &Whole, disk: &MemoryDisk, opened: &Opened, case: &str) {
    let mut again = open(disk);
    assert_eq!(again.damage, [], "{case}: the second open is clean");
    assert_eq!(again.visited, opened.visited, "{case}");
    assert_eq!(again.journal.end(), opened.journal.end(), "{case}");
    assert_eq!(again.journal.verify(&mut |_, _| {}).unwrap(), [], "{case}");
    let all_there = opened.visited.len() == whole.records().len();
    if !all_there || opened.damage.iter().any(|damage| damage.kind != DamageKind::TornTail) {
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

/// Does something to a range of bytes; `None` when it changes nothing.
type Gnaw = fn(&mut Vec<u8>, Range<usize>);

const GNAWS: [(&str, usize, Gnaw); 6] = [
    ("flip", 1, |bytes, span| bytes[span.start] ^= 0x10),
    ("zero", 16, |bytes, span| bytes[span].fill(0)),
    ("fill", 5, |bytes, span| bytes[span].fill(0xff)),
    ("delete", 3, |bytes, span| drop(bytes.drain(span))),
    ("swap", 40, |bytes, span| {
        let half = span.len() / 2;
        bytes[span].rotate_left(half);
    }),
    ("overwrite", 30, |bytes, span| {
        let other: Vec<u8> = bytes[HEADER_LEN..][..span.len()].to_vec();
        bytes[span].copy_from_slice(&other);
    }),
];

fn overlaps(a: &Range<usize>, b: &Range<usize>) -> bool {
    a.start < b.end && b.start < a.end
}

#[test]
fn gnawing_at_any_byte_of_any_segment() {
    let whole = Whole::new();
    assert!(whole.segments() >= 4, "first, middle and last are different ones");
    for segment in [1, 2, whole.segments()] {
        let good = whole.bytes(segment);
        for at in (0..good.len()).step_by(5) {
            for (name, len, gnaw) in GNAWS {
                let span = at..(at + len).min(good.len());
                let mut bytes = good.clone();
                gnaw(&mut bytes, span.clone());
                if bytes == good {
                    continue;
                }
                // What really changed: an overwrite may leave the first bytes as they were.
                let same = bytes.iter().zip(&good).take_while(|(a, b)| a == b).count();
                let span = if name == "delete" { span } else { same..span.end };
                let disk = copy(&whole.disk);
                disk.put(&path(segment), Some(bytes));
                let case = format!("{name} at {at} of segment {segment}");
                let opened = check(&whole, &disk, |s, batch| s == segment && overlaps(batch, &span), &case);
                assert!(!opened.damage.is_empty(), "{case}: named");
            }
        }
    }
}

#[test]
fn cutting_any_segment_anywhere() {
    let whole = Whole::new();
    for segment in [1, whole.segments() / 2, whole.segments()] {
        let good = whole.bytes(segment);
        for len in (0..good.len()).filter(|len| segment == whole.segments() || len % 4 == 0) {
            let disk = copy(&whole.disk);
            disk.put(&path(segment), Some(good[..len].to_vec()));
            let case = format!("cut to {len} of segment {segment}");
            let opened = check(&whole, &disk, |s, batch| s == segment && batch.end > len, &case);
            // The newest file may end after any batch, or not be there at all: that is how it was once.
            let looks_young = segment == whole.segments()
                && (len == 0
                    || len == HEADER_LEN
                    || whole.batches.iter().any(|(s, b, _)| *s == segment && b.end == len));
            assert_eq!(opened.damage.is_empty(), looks_young, "{case}: {:?}", opened.damage);
            let torn = opened.damage.iter().any(|damage| damage.kind == DamageKind::TornTail);
            assert_eq!(torn, segment == whole.segments() && !looks_young, "{case}");
        }
    }
}

#[test]
fn adding_to_any_segment() {
    let whole = Whole::new();
    for segment in 1..=whole.segments() {
        for tail in [
            vec![0; 1],
            vec![0; 700],
            b"something else".to_vec(),
            whole.bytes(1)[..50].to_vec(),
        ] {
            let disk = copy(&whole.disk);
            let mut bytes = whole.bytes(segment);
            bytes.extend(&tail);
            disk.put(&path(segment), Some(bytes));
            let opened = check(
                &whole,
                &disk,
                |_, _| false,
                &format!("{} bytes after segment {segment}", tail.len()),
            );
            assert_eq!(opened.damage.len(), 1);
        }
    }
}

#[test]
fn losing_whole_segments() {
    let whole = Whole::new();
    let last = whole.segments();
    for gone in 1..1u32 << last {
        let is_gone = |segment: u32| gone & 1 << (segment - 1) != 0;
        let disk = copy(&whole.disk);
        (1..=last)
            .filter(|s| is_gone(*s))
            .for_each(|s| disk.put(&path(s), None));
        let opened = check(&whole, &disk, |s, _| is_gone(s), &format!("without segments {gone:b}"));
        // Behind the last that is left nothing tells that there was more.
        let left = (1..=last).rev().find(|s| !is_gone(*s)).unwrap_or(0);
        let noticed = (1..left).any(is_gone);
        assert_eq!(!opened.damage.is_empty(), noticed, "{gone:b}");
        assert!(opened.damage.iter().all(|damage| damage.kind == DamageKind::Missing));
    }
}

#[test]
fn a_stray_file_far_ahead_is_one_loss_not_millions() {
    let whole = Whole::new();
    let disk = copy(&whole.disk);
    let stray = crate::segment::Header {
        number: 99_999_999,
        previous: 99_999_998,
        edition: 0,
        salt: 5,
    };
    disk.put(&path(99_999_999), Some(stray.to_bytes()));
    let opened = open(&disk);
    assert_eq!(opened.visited, whole.records());
    assert!(
        opened.damage.len() <= 3 && disk.paths().len() < 20,
        "{:?}",
        opened.damage
    );
    assert_eq!(open(&disk).damage, []);
}

#[test]
fn two_segments_that_changed_places() {
    let whole = Whole::new();
    for (a, b) in [(1, 2), (2, 3), (1, whole.segments())] {
        let disk = copy(&whole.disk);
        disk.put(&path(a), Some(whole.bytes(b)));
        disk.put(&path(b), Some(whole.bytes(a)));
        let opened = open(&disk);
        assert!(is_part_of(&opened.visited, &whole.records()), "{a} and {b}");
        assert!(
            opened
                .damage
                .iter()
                .filter(|damage| damage.kind == DamageKind::Header)
                .count()
                == 2
        );
        check_healed(&whole, &disk, &opened, &format!("{a} and {b} changed places"));
    }
}

#[test]
fn a_segment_of_a_later_version_is_refused_and_left_alone() {
    let whole = Whole::new();
    let disk = copy(&whole.disk);
    let mut bytes = whole.bytes(2);
    bytes[8] = 2;
    let crc = crc32fast::hash(&bytes[..HEADER_LEN - 4]).to_le_bytes();
    bytes[HEADER_LEN - 4..HEADER_LEN].copy_from_slice(&crc);
    disk.put(&path(2), Some(bytes.clone()));
    let error = try_open(Arc::new(disk.clone()), small()).err().unwrap();
    assert!(matches!(error, OpenError::TooNew { found: 2, known: 1, .. }), "{error}");
    assert_eq!(disk.bytes(&path(2)), Some(bytes));
}

#[test]
fn a_peer_cannot_hide_a_batch_in_an_entry() {
    let disk = MemoryDisk::new();
    let mut journal = open(&disk).journal;
    // All that a peer can know is how a batch is laid out, not the salt of this journal.
    let forged_record = entry(7, 1);
    let forged = crate::frame::encode(&[as_record(&forged_record)], 42).unwrap().bytes;
    let hostile = (RecordKind::Entry, log(1), 1, forged.repeat(3));
    append(&mut journal, &[hostile]);
    append(&mut journal, &[entry(2, 1)]);
    let mut bytes = disk.bytes(&path(1)).unwrap();
    bytes[HEADER_LEN + 25] ^= 1;
    disk.put(&path(1), Some(bytes));
    let opened = open(&disk);
    assert_eq!(
        opened.visited,
        [entry(2, 1)],
        "the batch around it is lost, and nothing in it is believed"
    );
}

#[test]
fn the_same_damage_is_kept_once_however_often_it_is_met() {
    let whole = Whole::new();
    let disk = copy(&whole.disk);
    let mut bytes = whole.bytes(1);
    bytes[100] ^= 1;
    for _ in 0..3 {
        disk.put(&path(1), Some(bytes.clone()));
        assert_eq!(open(&disk).damage.len(), 1);
    }
    let kept = disk.paths().iter().filter(|path| path.starts_with(EVIDENCE)).count();
    assert_eq!(kept, 1);
}

#[test]
fn verify_names_what_was_damaged_behind_our_back_and_changes_nothing() {
    let whole = Whole::new();
    let (segment, span, records) = whole.batches[4].clone();
    let opened = open(&whole.disk);
    let mut bytes = whole.bytes(segment);
    bytes[span.start + 30] ^= 4;
    // In the very file that is open, not in another of that name.
    whole.disk.open(&path(segment)).unwrap().write_at(0, &bytes).unwrap();
    let mut seen = Vec::new();
    let damage = opened.journal.verify(&mut |record, _| seen.push(keep(record))).unwrap();
    assert_eq!(damage.len(), 1);
    assert_eq!(
        (damage[0].segment, damage[0].offset, damage[0].bytes),
        (segment, span.start as u64, span.len() as u64)
    );
    let expected: Vec<Kept> = whole
        .records()
        .into_iter()
        .filter(|record| !records.contains(record))
        .collect();
    assert_eq!(seen, expected, "all others are read");
    for lost in &damage[0].lost {
        let of_log: Vec<u64> = records.iter().filter(|r| r.1 == lost.log).map(|r| r.2).collect();
        assert_eq!(
            (Some(&lost.from), lost.to),
            (of_log.iter().min(), of_log.iter().max().copied())
        );
    }
    assert_eq!(whole.bytes(segment), bytes);
    let (_, log, seq, _) = records[0].clone();
    let by_itself = opened.journal.read_entry(&log, seq);
    let in_order = opened.journal.scan_from(Position::START).find_map(Result::err);
    assert!(matches!(in_order, Some(crate::ReadError::Damaged { .. })));
    assert!(by_itself.is_ok() || matches!(by_itself, Err(crate::ReadError::Damaged { .. })));
}

#[test]
fn a_damaged_entry_is_never_handed_out() {
    let disk = MemoryDisk::new();
    let mut journal = open(&disk).journal;
    append(&mut journal, &[entry(1, 1), entry(1, 2)]);
    let good = disk.bytes(&path(1)).unwrap();
    let file = disk.open(&path(1)).unwrap();
    let mut refused = 0;
    for at in 0..good.len() {
        let mut bytes = good.clone();
        bytes[at] ^= 0x80;
        file.write_at(0, &bytes).unwrap();
        for seq in [1, 2] {
            match journal.read_entry(&log(1), seq) {
                Ok(bytes) => assert_eq!(bytes, Some(body(1, seq)), "byte {at}"),
                Err(_) => refused += 1,
            }
            let run: Vec<_> = journal.entries(&log(1), seq, seq).collect();
            assert!(run[0].as_ref().is_err() || run[0].as_ref().unwrap().1 == body(1, seq));
        }
    }
    assert!(
        refused >= body(1, 1).len() + body(1, 2).len(),
        "every byte of both is covered"
    );
}

#[derive(Debug, Clone)]
enum Blow {
    Flip(u32, usize, u8),
    Cut(u32, usize),
    Drop(u32),
    Insert(u32, usize, Vec<u8>),
    Copy(u32, u32),
}

fn any_blow() -> impl Strategy<Value = Blow> {
    let at = 0usize..2000;
    prop_oneof![
        (1u32..6, at.clone(), 1u8..).prop_map(|(s, at, mask)| Blow::Flip(s, at, mask)),
        (1u32..6, at.clone()).prop_map(|(s, at)| Blow::Cut(s, at)),
        (1u32..6).prop_map(Blow::Drop),
        (1u32..6, at, proptest::collection::vec(any::<u8>(), 1..40)).prop_map(|(s, at, new)| Blow::Insert(s, at, new)),
        (1u32..6, 1u32..6).prop_map(|(a, b)| Blow::Copy(a, b)),
    ]
}

fn strike(disk: &MemoryDisk, blow: &Blow) {
    let change = |segment: u32, act: &dyn Fn(&mut Vec<u8>)| {
        if let Some(mut bytes) = disk.bytes(&path(segment)) {
            act(&mut bytes);
            disk.put(&path(segment), Some(bytes));
        }
    };
    match blow {
        Blow::Flip(s, at, mask) => change(*s, &|b| {
            if let Some(b) = b.get_mut(*at) {
                *b ^= mask
            }
        }),
        Blow::Cut(s, at) => change(*s, &|b| b.truncate(*at)),
        Blow::Insert(s, at, new) => change(*s, &|b| {
            drop(b.splice((*at).min(b.len())..(*at).min(b.len()), new.iter().copied()))
        }),
        Blow::Drop(s) => disk.put(&path(*s), None),
        Blow::Copy(a, b) => disk.put(&path(*b), disk.bytes(&path(*a))),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn any_blows_leave_a_part_of_the_whole(blows in proptest::collection::vec(any_blow(), 1..8)) {
        let whole = Whole::new();
        let disk = copy(&whole.disk);
        blows.iter().for_each(|blow| strike(&disk, blow));
        let opened = open(&disk);
        for record in &opened.visited {
            prop_assert!(whole.records().contains(record), "only what was written");
        }
        check_healed_after_blows(&whole, &disk, &opened);
    }

    #[test]
    fn any_bytes_can_be_opened(files in proptest::collection::vec(proptest::collection::vec(any::<u8>(), 0..300), 1..4), with_header: bool) {
        let disk = MemoryDisk::new();
        for (i, bytes) in files.iter().enumerate() {
            let number = i as u32 + 1;
            let header = crate::segment::Header { number, previous: number - 1, edition: 0, salt: 9 }.to_bytes();
            let bytes = if with_header { [header, bytes.clone()].concat() } else { bytes.clone() };
            disk.put(&path(number), Some(bytes));
        }
        let mut opened = open(&disk);
        prop_assert_eq!(opened.visited, []);
        append(&mut opened.journal, &[entry(1, 1)]);
        let again = open(&disk);
        prop_assert_eq!(again.damage, []);
        prop_assert_eq!(again.visited, [entry(1, 1)]);
    }
}

fn check_healed_after_blows(whole: &Whole, disk: &MemoryDisk, opened: &Opened) {
    let mut again = open(disk);
    assert_eq!(again.damage, []);
    assert_eq!(again.visited, opened.visited);
    let missing: Vec<Kept> = whole
        .records()
        .into_iter()
        .filter(|record| record.2 > again.journal.head_seq(&record.1))
        .collect();
    append(&mut again.journal, &missing);
    assert_eq!(open(disk).journal.vector(), open(&whole.disk).journal.vector());
}
