//! Copied and restored homes. A home that notices that it is a copy takes a new incarnation before it writes: no entry is in
//! the way of another, all facts of both are kept everywhere, and `log-forked` says that one device speaks from two homes.
//! One that cannot notice forks its log; then, too, everybody is told.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::collections::BTreeSet;

use gladhand_tests::facts::{fitting, notes};
use gladhand_tests::process::copy_folder;
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

/// The finding on mara's device, if a home has one.
fn forked(home: &Home) -> Option<Value> {
    let found = home.run(&["findings", "--json", "--rule", "log-forked"]).done().json();
    let found = found["findings"].as_array().unwrap().clone();
    assert!(found.len() <= 1, "one device, one finding: {found:?}");
    found.into_iter().next()
}

fn is_forked(home: &Home) -> bool {
    forked(home).is_some()
}

/// Everywhere the same open finding on mara's device, whose sentence holds all of `words`.
#[track_caller]
fn is_told(homes: &[&Home], device: &Home, words: &[&str]) -> Value {
    let found = forked(homes[0]).expect("log-forked");
    assert_eq!(found["subject"], device.status()["device"]);
    assert_eq!(
        (&found["severity"], &found["status"], &found["standing"]),
        (&"stop".into(), &"open".into(), &"-".into())
    );
    let says = found["says"].as_str().unwrap();
    words
        .iter()
        .for_each(|word| assert!(says.contains(word), "{word} in: {says}"));
    homes
        .iter()
        .for_each(|home| assert_eq!(forked(home).as_ref(), Some(&found)));
    found
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
fn a_copied_home_and_its_original_both_go_on_and_everybody_is_told() {
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
    assert!(!is_forked(mara) && !is_forked(&copy), "neither can know");
    let mut all = fleet.homes();
    all.push(&copy);
    fleet.bundles.exchange(&all);
    let held = agree(&all);
    assert!(wanted.is_subset(&held), "all facts of both");
    is_told(&all, mara, &["laptop-mara", "was copied or restored", "in 2 logs"]);
    assert_eq!(logs_of(mara, &fleet.depot), 2, "the original's log and the copy's");
    // Each goes on in its own log, also after it has read the other's.
    for round in 0..2 {
        for (home, who) in [(mara, "original"), (&copy, "copy")] {
            let more = home.record(&notes(1, &format!("{who} later {round}"), false));
            wanted.extend(ids(&more.json_lines()));
        }
        fleet.bundles.exchange(&all);
    }
    assert!(wanted.is_subset(&agree(&all)));
    assert_eq!(logs_of(mara, &copy), 2);
    is_told(&all, mara, &["in 2 logs"]);
}

/// What each copy hears of goes into its own log, so a bundle made for the device must hold what any of the copies lacks.
#[test]
fn a_bundle_for_a_device_at_work_in_two_copies_serves_both() {
    let fleet = fleet();
    let mara = &fleet.laptops[0];
    let copy = mara.copied(fleet.dir().join("copy"));
    let mut wanted = BTreeSet::new();
    for (home, who) in [(mara, "original"), (&copy, "copy"), (mara, "again")] {
        wanted.extend(ids(&home.record(&notes(2, who, false)).json_lines()));
        fleet.bundles.carry(home, &fleet.depot).done();
    }
    let file = fleet.bundles.next();
    let path = file.to_str().unwrap();
    fleet
        .depot
        .run(&["bundle", "write", path, "--for", "laptop-mara"])
        .done();
    for home in [mara, &copy] {
        home.read_bundle(&file).done();
    }
    assert!(wanted.is_subset(&agree(&[&fleet.depot, mara, &copy])));
}

#[test]
fn a_copy_that_only_reads_writes_no_log_of_its_own() {
    let fleet = fleet();
    let copy = fleet.laptops[0].copied(fleet.dir().join("copy"));
    fleet.laptops[0].record(&notes(3, "meanwhile", true));
    fleet.bundles.carry(&fleet.laptops[0], &copy).done();
    agree(&[&fleet.laptops[0], &copy]);
    assert_eq!(logs_of(&copy, &copy), 1);
    assert!(!is_forked(&copy));
    // What it has read since does not make it the one home that goes on: when it writes, everybody is told.
    copy.record(&notes(1, "the copy after all", false));
    fleet.bundles.exchange(&[&fleet.depot, &fleet.laptops[0], &copy]);
    is_told(&[&fleet.depot, &fleet.laptops[0], &copy], &copy, &[]);
}

#[test]
fn a_copy_whose_original_is_silent_is_no_fork_and_two_such_copies_are_one() {
    let fleet = fleet();
    let (mara, depot) = (&fleet.laptops[0], &fleet.depot);
    let first = mara.copied(fleet.dir().join("first"));
    let second = first.copied(fleet.dir().join("second"));
    let mut wanted = ids(&first.record(&notes(2, "first", false)).json_lines());
    fleet.bundles.carry(&first, depot).done();
    assert!(!is_forked(depot), "the home has a new disk: nobody else goes on");
    wanted.extend(ids(&second.record(&notes(2, "second", true)).json_lines()));
    let all = [depot, &first, &second];
    fleet.bundles.exchange(&all);
    assert!(wanted.is_subset(&agree(&all)));
    is_told(&all, mara, &["in 2 logs"]);
    // A copy of a copy that goes on beside it.
    let third = first.copied(fleet.dir().join("third"));
    wanted.extend(ids(&first.record(&notes(1, "first again", false)).json_lines()));
    wanted.extend(ids(&third.record(&notes(1, "third", false)).json_lines()));
    let all = [depot, &first, &second, &third];
    fleet.bundles.exchange(&all);
    assert!(wanted.is_subset(&agree(&all)));
    is_told(&all, mara, &["in 2 logs", " and from place "]);
}

#[test]
fn a_ruling_settles_it_until_another_copy_turns_up() {
    let fleet = fleet();
    let (mara, depot) = (&fleet.laptops[0], &fleet.depot);
    let copy = mara.copied(fleet.dir().join("copy"));
    mara.record(&notes(1, "original", false));
    copy.record(&notes(1, "copy", false));
    let all = [depot, mara, &copy];
    fleet.bundles.exchange(&all);
    let found = is_told(&all, mara, &[]);
    depot
        .run(&[
            "ruling",
            found["id"].as_str().unwrap(),
            "--ruling",
            "accepted",
            "--why",
            "the copy is destroyed",
        ])
        .done();
    mara.record(&notes(1, "the one that stays", false));
    fleet.bundles.exchange(&all);
    all.iter()
        .for_each(|home| assert_eq!(forked(home).unwrap()["status"], "settled"));
    let another = mara.copied(fleet.dir().join("another"));
    for home in [mara, &another] {
        home.record(&notes(1, home.path.to_str().unwrap(), false));
    }
    fleet.bundles.exchange(&[depot, mara, &another]);
    is_told(&[depot, mara, &another], mara, &[]);
}

/// A backup of mara's laptop, facts that reached the depot after it was made, and then the disk died. Returns these facts.
fn lose(fleet: &Fleet, backup: &Home) -> BTreeSet<String> {
    let mara = &fleet.laptops[0];
    let lines = fitting("0302-C2", "LF 5302", "LC-P9D0K5X", "LT356259101");
    let lost = ids(&mara.record(&lines).json_lines());
    fleet.bundles.carry(mara, &fleet.depot).done();
    std::fs::remove_dir_all(&mara.path).unwrap();
    copy_folder(&backup.path, &mara.path);
    lost
}

#[test]
fn a_home_restored_from_an_older_copy_gets_back_what_it_lost_and_everybody_is_told() {
    for hears_first in [false, true] {
        let fleet = fleet();
        let mara = &fleet.laptops[0];
        let backup = mara.copied(fleet.dir().join("backup"));
        let lost = lose(&fleet, &backup);
        if hears_first {
            fleet.bundles.carry(&fleet.depot, mara).done();
        }
        let after = ids(&mara.record(&notes(4, "after the restore", true)).json_lines());
        fleet.exchange_all();
        let held = agree(&fleet.homes());
        assert!(
            lost.is_subset(&held) && after.is_subset(&held),
            "what was lost, and what came after"
        );
        is_told(&fleet.homes(), mara, &["restored from a backup"]);
        assert_eq!(logs_of(mara, &fleet.depot), 2);
    }
}

#[test]
fn a_home_restored_with_nothing_lost_is_no_fork() {
    let fleet = fleet();
    let mara = &fleet.laptops[0];
    let backup = mara.copied(fleet.dir().join("backup"));
    std::fs::remove_dir_all(&mara.path).unwrap();
    copy_folder(&backup.path, &mara.path);
    mara.record(&notes(4, "after the restore", true));
    fleet.exchange_all();
    agree(&fleet.homes());
    assert!(!is_forked(&fleet.depot));
}

#[test]
fn a_home_that_was_only_moved_goes_on_in_its_log() {
    let fleet = fleet();
    let moved = Home::at(fleet.dir().join("elsewhere"));
    std::fs::rename(&fleet.laptops[0].path, &moved.path).unwrap();
    moved.record(&notes(1, "moved", false));
    assert_eq!(logs_of(&moved, &moved), 1);
    // Over to another disk, as a copy of which the original is thrown away.
    let carried = moved.copied(fleet.dir().join("another disk"));
    std::fs::remove_dir_all(&moved.path).unwrap();
    carried.record(&notes(1, "carried", false));
    fleet.bundles.exchange(&[&fleet.depot, &carried]);
    assert_eq!(logs_of(&carried, &fleet.depot), 2);
    assert!(!is_forked(&fleet.depot));
}

/// A backup that is written into the files that are there keeps their places on the disk, so the home cannot know. When it
/// hears of a peer before it writes, it learns that it has written more than it remembers.
#[test]
fn an_unnoticed_restore_that_reads_first_goes_on_in_a_log_of_its_own() {
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
    is_told(&fleet.homes(), mara, &["restored from a backup"]);
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
    is_told(&fleet.homes()[..2], mara, &["in 3 logs"]);
    assert_eq!(logs_of(mara, &fleet.depot), 3);
}
