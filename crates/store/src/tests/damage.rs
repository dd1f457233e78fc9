//! What is left when the bytes of segments are corrupted?
//!
//! The matrix: (what is done to the bytes) x (where) x (which segment). After each case: no panic, the
//! untouched batches are there as far as they follow their logs, the damage is named and its bytes are among
//! the evidence, a second open finds nothing wrong, and what is lost can be appended again.

use std::ops::Range;

use super::whole::{Whole, check, check_healed, copy, path};
use super::*;
use crate::DamageKind;
use crate::segment::HEADER_LEN;

/// Does something to a range of bytes; `None` when it changes nothing.
type Corruption = fn(&mut Vec<u8>, Range<usize>);

const CORRUPTIONS: [(&str, usize, Corruption); 6] = [
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

/// One wrong bit of a batch, and its bytes still where they were, is put right.
fn differs_in_one_bit(batch: &Range<usize>, now: &Option<Vec<u8>>, good: &[u8]) -> bool {
    let now = now.as_ref().filter(|now| now.len() == good.len());
    let ones = |now: &Vec<u8>| -> u32 {
        let pairs = now[batch.clone()].iter().zip(&good[batch.clone()]);
        pairs.map(|(a, b)| (a ^ b).count_ones()).sum()
    };
    now.map(ones) == Some(1)
}

/// One bit was put right: everything is there, byte for byte, and what was derived still holds.
fn check_restored(whole: &Whole, opened: &Opened, case: &str) {
    let kinds: Vec<DamageKind> = opened.damage.iter().map(|damage| damage.kind).collect();
    assert_eq!(kinds, [DamageKind::Repaired], "{case}");
    assert!(!kinds[0].may_lose() && opened.damage[0].lost.is_empty(), "{case}");
    assert_eq!(opened.visited, whole.records(), "{case}");
    assert_eq!(opened.journal.fingerprint(whole.end), Some(whole.fingerprint), "{case}");
}

#[test]
fn corruption_at_any_byte_of_any_segment() {
    let whole = Whole::new();
    assert!(whole.segments() >= 4, "first, middle and last are different ones");
    for segment in [1, 2, whole.segments()] {
        let good = whole.bytes(segment);
        for at in (0..good.len()).step_by(5) {
            for (name, len, corrupt) in CORRUPTIONS {
                let span = at..(at + len).min(good.len());
                let mut bytes = good.clone();
                corrupt(&mut bytes, span.clone());
                if bytes == good {
                    continue;
                }
                // What really changed: an overwrite may leave the first bytes as they were.
                let same = bytes.iter().zip(&good).take_while(|(a, b)| a == b).count();
                let span = if name == "delete" { span } else { same..span.end };
                let disk = copy(&whole.disk);
                disk.put(&path(segment), Some(bytes));
                let case = format!("{name} at {at} of segment {segment}");
                let lost = |s: u32, batch: &Range<usize>| {
                    s == segment && overlaps(batch, &span) && !differs_in_one_bit(batch, &disk.bytes(&path(s)), &good)
                };
                let opened = check(&whole, &copy(&disk), lost, &case);
                assert!(!opened.damage.is_empty(), "{case}: named");
                if name == "flip" {
                    check_restored(&whole, &opened, &case);
                }
            }
        }
    }
}

/// The salt must stay a number that no peer can guess, also when nothing is left that tells it.
#[test]
fn a_journal_without_any_header_or_batch_gets_a_new_salt() {
    let whole = Whole::new();
    let disk = copy(&whole.disk);
    for segment in 1..=whole.segments() {
        disk.put(&path(segment), Some(vec![0; whole.bytes(segment).len()]));
    }
    let mut opened = open(&disk);
    assert!(!opened.damage.is_empty());
    append(&mut opened.journal, &[entry(1, 1)]);
    let salts: Vec<u64> = opened.journal.segments.iter().map(|info| info.header.salt).collect();
    assert!(
        salts.len() > 1 && salts.iter().all(|salt| *salt != 0 && *salt == salts[0]),
        "{salts:?}"
    );
    drop(opened);
    assert_eq!(open(&disk).visited, [entry(1, 1)]);
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
    bytes[HEADER_LEN + 25] ^= 3;
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
