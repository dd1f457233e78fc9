//! Copied and restored homes. A home that notices that it is a copy takes a new incarnation before it writes: no fork, and
//! all facts of both are kept everywhere. One that cannot notice forks its log, and everybody is told.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::collections::BTreeSet;

use gladhand_tests::facts::{fitting, notes};
use gladhand_tests::home::copy_folder;
use gladhand_tests::{Fleet, Home, files_below};
use serde_json::Value;

/// A depot, mara's laptop with a job that everybody holds, and ilse's.
fn fleet() -> Fleet {
    let fleet = Fleet::enrolled(&["mara", "ilse"]);
    fleet.laptops[0].record(&fitting("0302-C1", "LF 5301", "LC-LT91Z9J", "LT500411541"));
    fleet.exchange_all();
    fleet
}

/// All of these hold the same, find the same, and verify; returns the ids of all facts.
fn agree(homes: &[&Home]) -> BTreeSet<String> {
    let (first, others) = homes.split_first().unwrap();
    for other in others {
        assert_eq!(
            other.vector(),
            first.vector(),
            "{} and {}",
            other.path.display(),
            first.path.display()
        );
        assert_eq!(other.findings(), first.findings());
        assert_eq!(other.report(), first.report());
    }
    homes.iter().for_each(|home| home.verifies());
    first.fact_ids().into_iter().collect()
}

fn is_forked(home: &Home) -> bool {
    !home
        .run(&["findings", "--json", "--rule", "log-forked"])
        .done()
        .json()
        .as_array()
        .unwrap()
        .is_empty()
}

/// How many logs of mara's device a home holds.
fn logs_of(device: &Home, at: &Home) -> usize {
    let key = device.status()["device"].as_str().unwrap().to_owned();
    at.vector()
        .as_object()
        .unwrap()
        .keys()
        .filter(|log| log.starts_with(&key))
        .count()
}

fn ids(receipts: &[Value]) -> BTreeSet<String> {
    receipts
        .iter()
        .map(|r| r["fact"].as_str().unwrap().to_owned())
        .collect()
}

#[test]
fn a_copied_home_and_its_original_both_go_on_without_a_fork() {
    let fleet = fleet();
    let mara = &fleet.laptops[0];
    let copy = mara.copied(fleet.dir().join("copy"));
    let mut wanted = BTreeSet::new();
    // Both write on the same job and on their own, in turns, and neither hears of the other.
    for round in 0..3 {
        for (home, who) in [(mara, "original"), (&copy, "copy")] {
            let mut lines = fitting(&format!("0302-{who}-{round}"), "LF 5302", "LC-P9D0K5X", "LT356259101");
            lines.extend(notes(2, &format!("{who} {round}"), false));
            wanted.extend(ids(&home.record(&lines).json_lines()));
        }
    }
    let mut all = fleet.homes();
    all.push(&copy);
    fleet.bundles.exchange(&all);
    let held = agree(&all);
    assert!(wanted.is_subset(&held), "all facts of both");
    assert!(!is_forked(&fleet.depot));
    assert_eq!(logs_of(mara, &fleet.depot), 2, "the original's log and the copy's");
    // Once it has a log of its own, the copy is a home like others.
    copy.record(&notes(1, "later", false));
    assert_eq!(logs_of(mara, &copy), 2);
}

#[test]
fn a_copy_that_only_reads_writes_no_log_of_its_own() {
    let fleet = fleet();
    let copy = fleet.laptops[0].copied(fleet.dir().join("copy"));
    fleet.laptops[0].record(&notes(3, "meanwhile", true));
    fleet.bundles.carry(&fleet.laptops[0], &copy).done();
    agree(&[&fleet.laptops[0], &copy]);
    assert_eq!(logs_of(&copy, &copy), 1);
}

#[test]
fn a_home_restored_from_an_older_copy_goes_on_without_a_fork() {
    let fleet = fleet();
    let mara = &fleet.laptops[0];
    let backup = mara.copied(fleet.dir().join("backup"));
    // What was recorded after the backup reached the depot, and then the disk died.
    let lost = ids(&mara
        .record(&fitting("0302-C2", "LF 5302", "LC-P9D0K5X", "LT356259101"))
        .json_lines());
    fleet.bundles.carry(mara, &fleet.depot).done();
    std::fs::remove_dir_all(&mara.path).unwrap();
    copy_folder(&backup.path, &mara.path);
    // It writes before it hears of anybody.
    let after = ids(&mara.record(&notes(4, "after the restore", true)).json_lines());
    fleet.exchange_all();
    let held = agree(&fleet.homes());
    assert!(
        lost.is_subset(&held) && after.is_subset(&held),
        "what was lost, and what came after"
    );
    assert!(!is_forked(&fleet.depot));
    assert_eq!(logs_of(mara, &fleet.depot), 2);
}

#[test]
fn a_home_that_was_only_moved_goes_on_in_its_log() {
    let fleet = fleet();
    let moved = Home::at(fleet.dir().join("elsewhere"));
    std::fs::rename(&fleet.laptops[0].path, &moved.path).unwrap();
    moved.record(&notes(1, "moved", false));
    assert_eq!(logs_of(&moved, &moved), 1);
}

/// A backup that is written into the files that are there keeps their places on the disk, so the home cannot know. When it
/// hears of a peer before it writes, it learns that it has written more than it remembers.
#[test]
fn an_unnoticed_restore_that_reads_first_does_not_fork() {
    let fleet = fleet();
    let mara = &fleet.laptops[0];
    let backup = mara.copied(fleet.dir().join("backup"));
    let lost = ids(&mara.record(&notes(3, "after the backup", true)).json_lines());
    fleet.bundles.carry(mara, &fleet.depot).done();
    restore_in_place(&backup, mara);
    fleet.bundles.carry(&fleet.depot, mara).done();
    let after = ids(&mara.record(&notes(3, "after the restore", true)).json_lines());
    fleet.exchange_all();
    let held = agree(&fleet.homes());
    assert!(lost.is_subset(&held) && after.is_subset(&held));
    assert!(!is_forked(&fleet.depot));
    assert_eq!(logs_of(mara, &fleet.depot), 2);
}

/// The same, but it writes first: two different entries at one place. No program can undo that; everybody is told, the
/// evidence is kept, and the device goes on in a log of its own.
#[test]
fn an_unnoticed_restore_that_writes_first_is_found_out() {
    let fleet = fleet();
    let (mara, ilse) = (&fleet.laptops[0], &fleet.laptops[1]);
    let backup = mara.copied(fleet.dir().join("backup"));
    let first = ids(&mara.record(&notes(3, "after the backup", true)).json_lines());
    fleet.bundles.carry(mara, &fleet.depot).done();
    restore_in_place(&backup, mara);
    let second = ids(&mara.record(&notes(2, "after the restore", true)).json_lines());
    let told = fleet.bundles.carry(mara, &fleet.depot).exits(4);
    told.says(&["is forked"]);
    fleet.bundles.carry(&fleet.depot, mara).exits(4).says(&["is forked"]);
    for home in [&fleet.depot, mara] {
        assert!(is_forked(home), "{} must say so", home.path.display());
        let evidence = files_below(&home.file("evidence"));
        assert!(
            evidence.iter().any(|file| file.to_string_lossy().starts_with("fork-")),
            "{evidence:?}"
        );
    }
    // From here on it writes where nobody else does.
    let third = ids(&mara.record(&notes(2, "once it knew", true)).json_lines());
    fleet.bundles.carry(mara, &fleet.depot);
    fleet.bundles.carry(&fleet.depot, ilse).done();
    for home in [&fleet.depot, ilse] {
        let held: BTreeSet<String> = home.fact_ids().into_iter().collect();
        assert!(
            first.is_subset(&held) && third.is_subset(&held),
            "{}",
            home.path.display()
        );
        assert!(is_forked(home));
    }
    let own: BTreeSet<String> = mara.fact_ids().into_iter().collect();
    assert!(
        second.is_subset(&own) && third.is_subset(&own),
        "the device keeps what it wrote"
    );
    assert_eq!(ilse.findings(), fleet.depot.findings());
}

/// Writes the backup's files into the files that are there, as `cp -r backup/. home/` does, and takes away the others.
fn restore_in_place(backup: &Home, home: &Home) {
    for file in files_below(&home.path) {
        if !backup.file(&file).exists() {
            std::fs::remove_file(home.file(&file)).unwrap();
        }
    }
    for file in files_below(&backup.path) {
        let bytes = std::fs::read(backup.file(&file)).unwrap();
        std::fs::create_dir_all(home.file(&file).parent().unwrap()).unwrap();
        std::fs::write(home.file(&file), bytes).unwrap();
    }
}

/// Once a copy and its original have met, each holds the log of the other, and the newer of the two is the copy's. Whoever
/// starts again must go on in his own.
#[test]
fn a_copy_and_its_original_that_have_met_still_write_their_own_logs() {
    let fleet = fleet();
    let mara = &fleet.laptops[0];
    let copy = mara.copied(fleet.dir().join("copy"));
    let second = mara.copied(fleet.dir().join("second"));
    let mut wanted = BTreeSet::new();
    for round in 0..3 {
        for (home, who) in [(mara, "original"), (&copy, "copy"), (&second, "second")] {
            wanted.extend(ids(&home
                .record(&notes(2, &format!("{who} {round}"), true))
                .json_lines()));
        }
        fleet.bundles.exchange(&[&fleet.depot, mara, &copy, &second]);
    }
    let held = agree(&[&fleet.depot, mara, &copy, &second]);
    assert!(wanted.is_subset(&held));
    assert!(!is_forked(&fleet.depot));
    assert_eq!(logs_of(mara, &fleet.depot), 3);
}
