//! Several corruptions at once, anywhere, and bytes that were never a journal.

use proptest::prelude::*;

use super::whole::{Whole, copy, path};
use super::*;

#[derive(Debug, Clone)]
enum Corruption {
    Flip(u32, usize, u8),
    Cut(u32, usize),
    Drop(u32),
    Insert(u32, usize, Vec<u8>),
    Copy(u32, u32),
}

fn any_corruption() -> impl Strategy<Value = Corruption> {
    let at = 0usize..2000;
    prop_oneof![
        (1u32..6, at.clone(), 1u8..).prop_map(|(s, at, mask)| Corruption::Flip(s, at, mask)),
        (1u32..6, at.clone()).prop_map(|(s, at)| Corruption::Cut(s, at)),
        (1u32..6).prop_map(Corruption::Drop),
        (1u32..6, at, proptest::collection::vec(any::<u8>(), 1..40))
            .prop_map(|(s, at, new)| Corruption::Insert(s, at, new)),
        (1u32..6, 1u32..6).prop_map(|(a, b)| Corruption::Copy(a, b)),
    ]
}

fn apply(disk: &MemoryDisk, corruption: &Corruption) {
    let change = |segment: u32, act: &dyn Fn(&mut Vec<u8>)| {
        if let Some(mut bytes) = disk.bytes(&path(segment)) {
            act(&mut bytes);
            disk.put(&path(segment), Some(bytes));
        }
    };
    match corruption {
        Corruption::Flip(s, at, mask) => change(*s, &|b| {
            if let Some(b) = b.get_mut(*at) {
                *b ^= mask
            }
        }),
        Corruption::Cut(s, at) => change(*s, &|b| b.truncate(*at)),
        Corruption::Insert(s, at, new) => change(*s, &|b| {
            drop(b.splice((*at).min(b.len())..(*at).min(b.len()), new.iter().copied()))
        }),
        Corruption::Drop(s) => disk.put(&path(*s), None),
        Corruption::Copy(a, b) => disk.put(&path(*b), disk.bytes(&path(*a))),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn any_corruptions_leave_a_part_of_the_whole(corruptions in proptest::collection::vec(any_corruption(), 1..8)) {
        let whole = Whole::new();
        let disk = copy(&whole.disk);
        corruptions.iter().for_each(|corruption| apply(&disk, corruption));
        let opened = open(&disk);
        for record in &opened.visited {
            prop_assert!(whole.records().contains(record), "only what was written");
        }
        check_healed_after_corruptions(&whole, &disk, &opened);
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

fn check_healed_after_corruptions(whole: &Whole, disk: &MemoryDisk, opened: &Opened) {
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
