//! What happens when the files of the index are corrupted?

use std::fs;
use std::path::PathBuf;

use super::*;

/// The files of the newest database.
fn files_of(bench: &IndexBed) -> Vec<PathBuf> {
    let newest = fs::read_dir(bench.dir())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|p| p.is_dir())
        .max();
    let all = fs::read_dir(newest.unwrap())
        .unwrap()
        .map(|entry| entry.unwrap().path());
    all.filter(|path| path.is_file()).collect()
}

/// Does something to each file of the newest database.
fn corrupt(bench: &IndexBed, round: usize) {
    for path in files_of(bench) {
        let mut bytes = fs::read(&path).unwrap();
        // The end of the file is unused room.
        let used = bytes.iter().rposition(|byte| *byte != 0).map_or(0, |last| last + 1);
        let at = used * (round * 37 % 60) / 60;
        match round % 4 {
            0 => bytes.truncate(at),
            1 => bytes[at..used.min(at + 64)].fill(0),
            2 => bytes[at] ^= 0x40,
            _ => bytes[at..used].reverse(),
        }
        fs::write(&path, bytes).unwrap();
    }
}

#[test]
fn a_corrupted_closed_index_costs_time_and_nothing_else() {
    let bench = IndexBed::new(300);
    let expected = bench.expected();
    assert_eq!(bench.use_it(), expected);
    for round in 0..40 {
        corrupt(&bench, round);
        let (index, state) = bench.open();
        assert!(
            matches!(state, IndexState::Fresh(FreshWhy::Broken { aside: Some(_), .. })),
            "round {round}: {state:?}"
        );
        drop(index);
        assert_eq!(bench.use_it(), expected, "round {round}: {state:?}");
    }
    let aside = fs::read_dir(bench.evidence()).unwrap().count();
    assert_eq!(aside, 2, "the newest two are kept");
}

/// Here sled is on its own: it may miss something, but never makes something up, panics or hangs.
#[test]
fn a_corrupted_index_that_was_not_closed_makes_nothing_up() {
    let bench = IndexBed::new(300);
    let expected = bench.expected();
    for round in 0..40 {
        assert_eq!(bench.use_it(), expected);
        bench.as_if_killed();
        corrupt(&bench, round);
        let found = bench.use_it();
        for (subject, places) in &found.about {
            assert!(places.is_subset(&expected.about[subject]), "round {round}");
        }
        let (mut index, _) = bench.open();
        index.clear().unwrap();
    }
}
