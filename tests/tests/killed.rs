//! `kill -9` at any moment of `record` and of `bundle read`: every fact with a receipt is there afterwards, in its place;
//! the store verifies; and doing the same again completes it without doubling anything.
//!
//! Two ways of killing. At an exact byte: a limit on the size of files ends the child in the middle of the write that
//! crosses it (see `src/bin/limited.rs`), and the byte walks through everything that the command appends to the journal,
//! and through the small files. At an exact receipt and some microseconds more: SIGKILL from here.

#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::collections::{BTreeMap, BTreeSet};
use std::io::{BufRead, Read, Write};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use gladhand_node::{Node, Silent};
use gladhand_tests::facts::{fitting, line, notes};
use gladhand_tests::process::Running;
use gladhand_tests::{Fleet, Home, Ran, SeededRng, files_below};
use serde_json::{Value, json};

const SEGMENT: &str = "log/00000001.seg";

/// A fact's id, and its place: log, entry, index.
type Facts = BTreeMap<String, (String, u64, u64)>;

/// Facts that have receipts. The last line may be cut: the child died while printing it.
fn receipts(stdout: &str) -> Facts {
    let whole = stdout.split_inclusive('\n').filter(|line| line.ends_with('\n'));
    whole
        .map(|line| place_of(&serde_json::from_str(line).unwrap()))
        .collect()
}

fn place_of(receipt: &Value) -> (String, (String, u64, u64)) {
    let text = |key: &str| receipt[key].as_str().unwrap().to_owned();
    let number = |key: &str| receipt[key].as_u64().unwrap();
    (text("fact"), (text("log"), number("seq"), number("index")))
}

/// What a home holds, read by opening it in this process. The store must verify once it is open.
fn held(home: &Home) -> Facts {
    let node = Node::open(&home.path, &Silent).unwrap_or_else(|e| panic!("{}: {e}", home.path.display()));
    let facts = node.all_facts().unwrap();
    let place = |w: &gladhand_reconcile::RecordedFact| {
        let place = (w.place.log.to_string(), w.place.seq, u64::from(w.place.index));
        (w.fact.id().to_string(), place)
    };
    let all: Vec<_> = facts.all().map(|w| place(w)).collect();
    let held: Facts = all.iter().cloned().collect();
    assert_eq!(held.len(), all.len(), "a fact stands twice in {}", home.path.display());
    let wrong = node.verify(&Silent).unwrap().wrong;
    let torn = node.damage().iter().map(ToString::to_string).collect::<Vec<_>>();
    let other: Vec<_> = wrong
        .iter()
        .filter(|w| !torn.iter().any(|said| said.ends_with(&w.what)))
        .collect();
    assert!(other.is_empty(), "{}: {other:?}", home.path.display());
    node.close().unwrap();
    held
}

/// Everything with a receipt is held where the receipt says.
fn keeps(home: &Home, promised: &Facts, when: &str) -> Facts {
    let held = held(home);
    for (fact, place) in promised {
        assert_eq!(held.get(fact), Some(place), "a fact with a receipt, {when}");
    }
    held
}

fn was_killed(ran: &Ran) -> bool {
    ran.code.is_none()
}

/// Recording the same lines again: all of them are there, none twice, none elsewhere than promised.
fn completes(home: &Home, lines: &[String], promised: &Facts, before: &Facts, when: &str) {
    let ran = home.record(lines).json_lines();
    for receipt in &ran {
        let (fact, place) = place_of(receipt);
        let was_here = before.contains_key(&fact);
        assert_eq!(receipt["receipt"] == "already", was_here, "{fact}, {when}");
        assert!(
            promised.get(&fact).is_none_or(|p| *p == place),
            "{fact} has moved, {when}"
        );
    }
    assert_eq!(ran.len(), lines.len(), "a receipt for each line, {when}");
    assert_eq!(
        held(home).len(),
        before.len() + ran.iter().filter(|r| r["receipt"] == "recorded").count()
    );
}

/// The binary, ended when it writes beyond byte `limit` of any file.
fn limited(home: &Home, limit: u64, args: &[&str]) -> Command {
    let plain = home.command(args);
    let mut command = Command::new(env!("CARGO_BIN_EXE_limited"));
    command
        .arg(limit.to_string())
        .arg(plain.get_program())
        .args(plain.get_args());
    for (name, value) in plain.get_envs() {
        match value {
            Some(value) => command.env(name, value),
            None => command.env_remove(name),
        };
    }
    command
}

fn run_limited(home: &Home, limit: u64, args: &[&str], input: &str) -> Ran {
    let mut running = Running::spawn(&mut limited(home, limit, args));
    // It may be dead already.
    running.stdin().write_all(input.as_bytes()).ok();
    // A panic would be as bad as a lost fact.
    running.ran_or_killed()
}

fn journal_bytes(home: &Home) -> u64 {
    std::fs::metadata(home.file(SEGMENT)).unwrap().len()
}

/// `count` bytes spread evenly over what is between them.
fn spread(from: u64, to: u64, count: u64) -> BTreeSet<u64> {
    (0..count).map(|n| from + (to - from) * n / (count - 1)).collect()
}

/// Long notes, so that the journal is longer than any other file of the home: the limit is then met in the journal only.
fn ballast(home: &Home) {
    let long = "The gate sticks. ".repeat(2_400);
    let notes: Vec<String> = (0..16)
        .map(|n| line("note", json!({"text": format!("{n}: {long}")})))
        .collect();
    home.record(&notes);
    let others = files_below(&home.path)
        .into_iter()
        .filter(|file| !file.ends_with(SEGMENT));
    let longest = others
        .map(|file| std::fs::metadata(home.file(file)).unwrap().len())
        .max()
        .unwrap();
    assert!(journal_bytes(home) > longest + 100_000, "a file of {longest} bytes");
}

/// A home with something in it, and the lines that are recorded while it dies.
fn recorder(dir: &Path) -> (Home, Vec<String>) {
    let home = Home::laptop(dir.join("recorder"), "laptop-mara", "mara");
    home.record(&fitting("0302-K1", "LF 5301", "LC-LT91Z9J", "LT500411541"));
    ballast(&home);
    let mut lines = fitting("0302-K2", "LF 5302", "LC-P9D0K5X", "LT356259101");
    lines.extend(notes(6, "by the gate", true));
    (home, lines)
}

#[test]
fn record_killed_at_any_byte_that_it_writes() {
    let dir = tempfile::tempdir().unwrap();
    let (base, lines) = recorder(dir.path());
    let finished = base.stand_in(dir.path().join("finished"));
    finished.record(&lines);
    let (from, to) = (journal_bytes(&base), journal_bytes(&finished));
    let mut limits = spread(from, to, 84);
    // Below what the journal has already: the first write to any file beyond it is the last. The lock, the notes beside
    // the index, the mark, the index.
    limits.extend([0, 3, 7, 12, 35, 60, 77, 400, 4_000, 300_000]);
    let (mut killed, mut promises, mut torn) = (0, 0, 0);
    for limit in limits {
        let home = base.stand_in(dir.path().join(format!("at-{limit}")));
        let ran = run_limited(&home, limit, &["record", "--json", "-"], &lines.join("\n"));
        let when = format!("killed at byte {limit} of {from} to {to}");
        killed += usize::from(was_killed(&ran));
        torn += usize::from(journal_bytes(&home) == limit);
        let promised = receipts(&ran.out);
        promises += promised.len();
        let before = keeps(&home, &promised, &when);
        completes(&home, &lines, &promised, &before, &when);
        std::fs::remove_dir_all(&home.path).unwrap();
    }
    println!("record: {killed} kills at bytes, {torn} of them within the journal, {promises} receipts held");
    assert!(killed >= 85 && torn >= 75, "{killed} killed, {torn} within the journal");
}

#[test]
fn record_killed_after_any_receipt() {
    let dir = tempfile::tempdir().unwrap();
    let mut rng = SeededRng::new(0x0302_0001);
    let home = Home::laptop(dir.path().join("recorder"), "laptop-mara", "mara");
    let (mut all, mut kills) = (Facts::new(), 0);
    for round in 0..40 {
        let lines = notes(8, &format!("round {round}"), round % 2 == 0);
        let promised = killed_after(&home, &lines, round % 9, rng.below(4_000) as u64);
        all.extend(promised.clone());
        // One home through all of them: a crash upon a crash.
        let before = keeps(&home, &all, &format!("killed in round {round}"));
        completes(&home, &lines, &promised, &before, &format!("killed in round {round}"));
        kills += 1;
        if round % 12 == 0 {
            home.verifies();
            let shown: BTreeSet<String> = home.fact_ids().into_iter().collect();
            assert!(
                all.keys().all(|fact| shown.contains(fact)),
                "history after round {round}"
            );
        }
    }
    println!("record: {kills} kills after receipts, {} receipts held", all.len());
}

/// Feeds a line, waits for its receipt, feeds the next; after `count` receipts one line more, some microseconds, and the end.
fn killed_after(home: &Home, lines: &[String], count: usize, wait_us: u64) -> Facts {
    let mut child = home.start(&["record", "--json", "-"]);
    let mut feed = child.stdin();
    let mut receipts_in = child.stdout();
    let mut seen = Vec::new();
    for (number, line) in lines.iter().enumerate() {
        writeln!(feed, "{line}").unwrap();
        feed.flush().unwrap();
        if number == count {
            break;
        }
        receipts_in.read_until(b'\n', &mut seen).unwrap();
    }
    std::thread::sleep(Duration::from_micros(wait_us));
    child.kill();
    receipts_in.read_to_end(&mut seen).unwrap();
    receipts(&String::from_utf8_lossy(&seen))
}

/// A reader, and a bundle of several frames that it lacks.
fn bundle_scene() -> (Fleet, PathBuf) {
    let fleet = Fleet::enrolled(&["mara"]);
    ballast(&fleet.depot);
    let mut lines = fitting("0302-K1", "LF 5301", "LC-LT91Z9J", "LT500411541");
    lines.extend(notes(560, "along the fence", true));
    fleet.laptops[0].record(&lines);
    let bundle = fleet.bundles.next();
    fleet.laptops[0].write_bundle(&bundle);
    (fleet, bundle)
}

#[test]
fn bundle_read_killed_at_any_byte_that_it_writes() {
    let (fleet, bundle) = bundle_scene();
    let whole = fleet.depot.stand_in(fleet.dir().join("whole"));
    whole.read_bundle(&bundle).done();
    let (everything, findings) = (held(&whole), whole.findings());
    let (from, to) = (journal_bytes(&fleet.depot), journal_bytes(&whole));
    let had = held(&fleet.depot.stand_in(fleet.dir().join("before"))).len();
    let mut limits = spread(from, to, 46);
    limits.extend([0, 7, 35, 60, 4_000]);
    let (mut killed, mut partly) = (0, 0);
    for limit in limits {
        let home = fleet.depot.stand_in(fleet.dir().join(format!("at-{limit}")));
        let ran = run_limited(&home, limit, &["bundle", "read", bundle.to_str().unwrap()], "");
        killed += usize::from(was_killed(&ran));
        let when = format!("killed at byte {limit} of {from} to {to}");
        let before = held(&home);
        partly += usize::from(before.len() > had && before.len() < everything.len());
        assert!(
            before.iter().all(|(fact, place)| everything.get(fact) == Some(place)),
            "{when}"
        );
        home.read_bundle(&bundle).done();
        assert_eq!(held(&home), everything, "{when}");
        assert_eq!(home.findings(), findings, "{when}");
        std::fs::remove_dir_all(&home.path).unwrap();
    }
    println!("bundle read: {killed} kills at bytes, {partly} of them with a part of the bundle held");
    assert!(killed >= 45 && partly >= 10, "{killed} killed, {partly} with a part");
}

#[test]
fn bundle_read_killed_at_any_moment() {
    let (fleet, bundle) = bundle_scene();
    let mut rng = SeededRng::new(0x0302_0002);
    let whole = fleet.depot.stand_in(fleet.dir().join("whole"));
    let started = std::time::Instant::now();
    whole.read_bundle(&bundle).done();
    let longest_us = started.elapsed().as_micros() as usize;
    let (everything, findings) = (held(&whole), whole.findings());
    let had = held(&fleet.depot.stand_in(fleet.dir().join("before"))).len();
    let mut partly = 0;
    for number in 0..24 {
        let home = fleet.depot.stand_in(fleet.dir().join(format!("moment-{number}")));
        let mut child = home.start(&["bundle", "read", bundle.to_str().unwrap()]);
        std::thread::sleep(Duration::from_micros(rng.below(longest_us) as u64));
        child.kill();
        let before = held(&home);
        partly += usize::from(before.len() > had && before.len() < everything.len());
        home.read_bundle(&bundle).done();
        assert_eq!(held(&home), everything);
        assert_eq!(home.findings(), findings);
        std::fs::remove_dir_all(&home.path).unwrap();
    }
    println!("bundle read: 24 kills at moments, {partly} of them with a part of the bundle held");
}
