//! Every file of a home, damaged in every way: the next command never panics, names what is damaged, keeps the evidence;
//! what is derived is made anew; what is lost comes back with a peer's bundle, byte for byte; and the device goes on
//! without forking its log.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod gaps;
mod matrix;
mod scene;

use std::path::Path;

use gladhand_tests::facts::line;
use gladhand_tests::{demo_data, files_below};
use scene::{Blow, QUESTION, SEGMENT, Scene, scene};
use serde_json::{Value, json};

/// The journal, struck so: named, evidence kept, everything back, a new incarnation unless nothing was lost, no fork.
fn journal_case(scene: &Scene, blow: Blow, write_first: bool) {
    let case = scene.case();
    let what = format!(
        "{blow:?} of the journal{}",
        if write_first { ", then a record" } else { "" }
    );
    println!("{what}");
    blow.strike(&case.device.file(SEGMENT));
    let verified = case.device.run(&["verify"]).exits(1);
    let said = format!("{}{}", verified.out, verified.err);
    let untraced = scene.leaves_no_trace(blow);
    let place = if untraced { "the end is missing" } else { "00000001.seg" };
    assert!(said.contains(place), "{what} is not named: {verified}");
    assert_eq!(
        case.evidence().is_empty(),
        untraced,
        "evidence of {what}: {:?}",
        case.evidence()
    );
    if write_first {
        case.device
            .record(&[line("note", json!({"text": "written before the bundle came"}))]);
    }
    case.everything_comes_back(&what);
    if !write_first {
        assert_eq!(case.device.report(), scene.report, "report after {what}");
    }
    // One wrong bit is put right, and then nothing is lost that a peer may hold.
    let logs = if matches!(blow, Blow::Flip(_)) { 1 } else { 2 };
    assert_eq!(case.goes_on(&what), logs, "logs of the device after {what}");
}

fn journal_blows(scene: &Scene) -> Vec<Blow> {
    let len = *scene.ends.last().unwrap();
    let mut blows = Blow::few(len);
    // In the header of the file, in the head of a batch, in its payload, in its last bytes.
    let batch = scene.ends[2];
    blows.extend([3, 9, 30, batch, batch + 5, batch + 19, batch + 60, batch - 1].map(Blow::Flip));
    blows.extend([1, 20, batch, batch + 1, batch + 30, scene.ends[0], len - 3].map(Blow::Cut));
    blows
}

#[test]
fn a_damaged_journal_comes_back_from_a_peer() {
    let scene = scene();
    for (number, blow) in journal_blows(&scene).into_iter().enumerate() {
        journal_case(&scene, blow, number % 3 == 1);
    }
}

/// What is derived: no damage to speak of, made anew, and the answers are the same.
#[test]
fn a_damaged_index_is_made_anew() {
    let scene = scene();
    assert!(scene.index.len() >= 3, "{:?}", scene.index);
    for file in &scene.index {
        let len = scene.length(Path::new("index").join(file));
        let blows = if len < 100 {
            vec![
                Blow::Delete,
                Blow::Zero,
                Blow::Cut(len / 2),
                Blow::Flip(0),
                Blow::Flip(len / 2),
            ]
        } else {
            Blow::few(len)
        };
        for blow in blows {
            index_case(&scene, file, blow, false);
        }
    }
}

/// After a kill there is no note of what the index's files held when they were closed, so it is the database itself that
/// meets the damage; it panics more often than not, and nobody may see that.
#[test]
fn an_index_damaged_after_a_kill_is_made_anew() {
    let scene = scene();
    for file in scene.index.iter().filter(|file| file.starts_with("1")) {
        let len = scene.length(Path::new("index").join(file));
        let places = [0, 11, 40, 100, 400, 1_100, 9_000, 30_000];
        for at in places.into_iter().filter(|at| *at < len) {
            index_case(&scene, file, Blow::Flip(at), true);
        }
        index_case(&scene, file, Blow::Cut(len / 2), true);
        index_case(&scene, file, Blow::Zero, true);
    }
}

fn index_case(scene: &Scene, file: &Path, blow: Blow, after_a_kill: bool) {
    let case = scene.case();
    let what = format!("{blow:?} of index/{}", file.display());
    println!("{what}{}", if after_a_kill { " after a kill" } else { "" });
    if after_a_kill {
        std::fs::remove_file(case.device.file("index/clean")).unwrap();
    }
    blow.strike(&case.device.file("index").join(file));
    // Recording the same again asks the index what was recorded before.
    let again = demo_data().join("02-mara-afternoon.jsonl");
    let receipts = case
        .device
        .run(&["record", "--json", again.to_str().unwrap()])
        .done()
        .json_lines();
    let doubled: Vec<&Value> = receipts.iter().filter(|r| r["receipt"] != "already").collect();
    assert!(doubled.is_empty(), "recorded twice after {what}: {doubled:?}");
    case.device.verifies();
    assert_eq!(case.device.findings(), scene.findings, "findings after {what}");
    assert_eq!(case.device.history(&QUESTION), scene.history, "history after {what}");
}

#[test]
fn a_lost_index_is_no_loss() {
    let scene = scene();
    let case = scene.case();
    std::fs::remove_dir_all(case.device.file("index")).unwrap();
    case.device.verifies();
    assert_eq!(case.device.findings(), scene.findings);
    assert_eq!(case.goes_on("losing the index"), 1);
}

#[test]
fn a_damaged_picture_is_named_and_comes_back() {
    let scene = scene();
    let name = files_below(&scene.device().file("pictures")).pop().expect("a picture");
    let len = scene.length(Path::new("pictures").join(&name));
    for blow in [Blow::Delete, Blow::Zero, Blow::Cut(len / 2), Blow::Flip(len / 3)] {
        let case = scene.case();
        let file = case.device.file("pictures").join(&name);
        let good = std::fs::read(&file).unwrap();
        blow.strike(&file);
        if blow == Blow::Delete {
            // Nobody wrote down that it was here once: a fact may name a picture that this node never had.
            case.device.verifies();
        } else {
            let hash = name.file_stem().unwrap().to_str().unwrap();
            case.device.run(&["verify"]).exits(1).shows(&[hash, "picture", "peer"]);
        }
        case.everything_comes_back("a damaged picture");
        assert!(std::fs::read(&file).unwrap() == good, "the picture after {blow:?}");
        assert_eq!(case.goes_on("a damaged picture"), 1);
    }
}

/// Without its key a home is nobody; without its format nobody knows how to read it. Nothing may be guessed, nothing
/// changed, and with the file back all is as it was.
#[test]
fn a_damaged_key_or_format_stops_everything_and_harms_nothing() {
    let scene = scene();
    for name in ["key", "format"] {
        let len = scene.length(name);
        for blow in Blow::few(len) {
            if blow == Blow::Cut(len - 1) || blow == Blow::Flip(len - 1) {
                // Only the newline at its end.
                continue;
            }
            let case = scene.case();
            let good = std::fs::read(case.device.file(name)).unwrap();
            blow.strike(&case.device.file(name));
            for args in [&["status"][..], &["findings", "--json"], &["verify"], &["record", "-"]] {
                let ran = case.device.run(args).exits(1);
                let expected = if ran.err.contains("has format") {
                    "format"
                } else {
                    "damaged"
                };
                ran.says(&[
                    case.device
                        .file(name)
                        .to_str()
                        .unwrap_or(name)
                        .rsplit('/')
                        .next()
                        .unwrap(),
                    expected,
                ]);
            }
            std::fs::write(case.device.file(name), good).unwrap();
            assert_eq!(case.device.findings(), scene.findings, "after {blow:?} of {name}");
        }
    }
}

/// The mark only says where the home stands, the lock only who has it open.
#[test]
fn a_damaged_mark_or_lock_costs_an_incarnation_at_most() {
    let scene = scene();
    for (name, logs) in [("mark", 2), ("lock", 1)] {
        for blow in [Blow::Delete, Blow::Zero, Blow::Cut(3), Blow::Flip(0)] {
            let case = scene.case();
            blow.strike(&case.device.file(name));
            let what = format!("{blow:?} of the {name}");
            let verified = case.device.run(&["verify"]);
            if name == "mark" && blow != Blow::Delete {
                verified.exits(1).shows(&["mark: it was damaged", "nothing is lost"]);
            } else {
                verified.done().shows(&["everything fits"]);
            }
            assert_eq!(case.device.findings(), scene.findings, "findings after {what}");
            assert_eq!(case.goes_on(&what), logs, "logs of the device after {what}");
        }
    }
}

/// The configuration is text that people edit. What does not read is named with its line; nothing is lost by it.
#[test]
fn a_damaged_configuration_is_named_and_harms_nothing() {
    let scene = scene();
    let len = scene.length("config.toml");
    let mut blows = Blow::few(len);
    blows.extend((0..24).map(|n| Blow::Flip(len * n / 24)));
    let (mut refused, mut accepted) = (0, 0);
    for blow in blows {
        let case = scene.case();
        let good = std::fs::read(case.device.file("config.toml")).unwrap();
        blow.strike(&case.device.file("config.toml"));
        let ran = case.device.run(&["findings", "--json"]);
        if ran.code == Some(0) {
            accepted += 1;
            assert_eq!(ran.out, scene.findings, "findings after {blow:?} of the configuration");
        } else {
            refused += 1;
            let ran = ran.says(&["config.toml"]);
            assert!(matches!(ran.code, Some(1 | 2)), "{blow:?}: {ran}");
        }
        std::fs::write(case.device.file("config.toml"), good).unwrap();
        assert_eq!(
            case.device.findings(),
            scene.findings,
            "with the configuration put back"
        );
    }
    println!("configuration: {refused} refused, {accepted} without effect");
    assert!(refused >= 5, "most of the blows must be noticed");
}

/// No file of a home is left out above.
#[test]
fn every_file_of_a_home_is_struck_somewhere_here() {
    let scene = scene();
    let struck = [
        "log/",
        "index/",
        "pictures/",
        "key",
        "format",
        "mark",
        "lock",
        "config.toml",
        // Struck with all the others in the matrix: a measurement may be lost, nothing else.
        "bundles-read.json",
    ];
    for file in files_below(&scene.device().path) {
        let name = file.to_string_lossy().into_owned();
        assert!(
            struck.iter().any(|s| name.starts_with(s)),
            "{name} is in a home, and no test damages it"
        );
    }
}
