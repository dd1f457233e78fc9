//! Homes, bundles and reports of every version that was ever handed out, under `tests/frozen/<version>/`: this version opens
//! them all, finds every fact, and says of them what was said then.
//!
//! `tests/frozen/manifest.txt` lists each file with its BLAKE3. A file that is not listed fails, and so does a version of the program
//! that has no folder there once it is released: nobody may forget to freeze one, nor change one unseen. The index is
//! not frozen: it is derived, and made anew wherever it is missing.
//!
//! `cargo test -p gladhand-tests --test frozen -- --ignored freeze_this_version` makes the folder of this version, once.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::collections::{BTreeMap, BTreeSet};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

use gladhand_facts::{Fact, VersionVector};
use gladhand_node::config::{Config, Role};
use gladhand_node::{Node, Silent};
use gladhand_reconcile::Filter;
use gladhand_tests::facts::{fitting, line, notes};
use gladhand_tests::process::copy_folder;
use gladhand_tests::sim::judges::{all_facts, wrong_since_start};
use gladhand_tests::{files_below, repository};
use serde_json::{Value, json};

const MANIFEST: &str = "manifest.txt";

fn frozen() -> PathBuf {
    repository().join("tests/frozen")
}

/// Path to hash, as the manifest has it.
fn listed() -> BTreeMap<String, String> {
    let text = std::fs::read_to_string(frozen().join(MANIFEST)).expect("the manifest");
    let lines = text.lines().filter(|line| !line.is_empty() && !line.starts_with('#'));
    let pairs = lines.map(|line| line.split_once("  ").expect("a hash, two spaces, a path"));
    pairs.map(|(hash, path)| (path.to_owned(), hash.to_owned())).collect()
}

fn present() -> BTreeMap<String, String> {
    let files = files_below(&frozen()).into_iter();
    let named = files.map(|path| path.to_str().unwrap().to_owned());
    let hashed = named.filter(|path| path != MANIFEST).map(|path| {
        let bytes = std::fs::read(frozen().join(&path)).unwrap();
        (path, blake3::hash(&bytes).to_string())
    });
    hashed.collect()
}

fn versions() -> BTreeSet<String> {
    let versions = present()
        .into_keys()
        .map(|path| path.split('/').next().unwrap().to_owned());
    versions.collect()
}

/// A copy of a frozen home that can be opened: git keeps neither empty folders nor who may read a file.
fn thawed(version: &str, name: &str, dir: &Path) -> PathBuf {
    let home = dir.join(format!("{version}-{name}"));
    copy_folder(&frozen().join(version).join(name), &home);
    for folder in [
        "log",
        "index",
        "evidence",
        "pictures",
        "inbox",
        "inbox/done",
        "inbox/rejected",
    ] {
        std::fs::create_dir_all(home.join(folder)).unwrap();
    }
    std::fs::set_permissions(home.join("key"), std::fs::Permissions::from_mode(0o600)).unwrap();
    home
}

fn json_of(version: &str, name: &str) -> Value {
    let file = frozen().join(version).join(name);
    serde_json::from_slice(&std::fs::read(&file).unwrap()).unwrap_or_else(|e| panic!("{}: {e}", file.display()))
}

/// The values of a field of a job. In 0.1.0 they stood in one text with ` | ` between them.
fn values(field: &Value) -> Vec<String> {
    match field {
        Value::Null => Vec::new(),
        Value::String(text) => text.split(" | ").map(str::to_owned).collect(),
        list => serde_json::from_value(list.clone()).expect("a list of values"),
    }
}

/// What a report says that no later version may say otherwise. Its words may get better, and more may be found.
fn essence(report: &Value) -> (Value, BTreeSet<String>, BTreeSet<String>) {
    let rows = |list: &str, names: &[&str]| {
        let rows = report[list].as_array().expect("a list").iter();
        let said = |row: &Value| names.iter().map(|name| format!("{name} {}; ", row[*name])).collect();
        rows.map(said).collect::<BTreeSet<String>>()
    };
    let jobs = report["jobs"].as_array().expect("a list").iter();
    let jobs = jobs.map(|job| format!("{}: {:?}, {}", job["job"], values(&job["trailer"]), job["state"]));
    (
        report["vector"].clone(),
        jobs.collect(),
        // Not by their ids: these go by keys since names are compared by keys. What was settled by an id of before stays settled.
        rows("findings", &["rule", "subject", "status"]),
    )
}

fn ids(node: &Node) -> BTreeSet<String> {
    all_facts(node)
        .into_values()
        .flatten()
        .map(|fact| fact.to_string())
        .collect()
}

#[test]
fn every_frozen_file_is_listed_and_unchanged() {
    assert_eq!(present(), listed(), "tests/frozen/ and its manifest");
    assert!(
        versions().contains(env!("CARGO_PKG_VERSION")),
        "this version is not frozen"
    );
}

#[test]
fn homes_of_every_version_open_and_say_what_they_said() {
    let dir = tempfile::tempdir().unwrap();
    for version in versions() {
        for name in ["depot", "laptop"] {
            let home = thawed(&version, name, dir.path());
            let mut node = Node::open(&home, &Silent).unwrap_or_else(|e| panic!("{version}/{name}: {e}"));
            assert!(node.damage().is_empty(), "{version}/{name}: {:?}", node.damage());
            assert_eq!(wrong_since_start(&node), Vec::<String>::new(), "{version}/{name}");
            let report = serde_json::to_value(node.report(&Filter::default()).unwrap()).unwrap();
            let then = json_of(&version, "report.json");
            let ((vector, jobs, found), (old_vector, old_jobs, old_found)) = (essence(&report), essence(&then));
            assert_eq!((vector, jobs), (old_vector, old_jobs), "{version}/{name}");
            let gone: Vec<&String> = old_found.difference(&found).collect();
            assert!(gone.is_empty(), "{version}/{name} does not find any more: {gone:#?}");
            let wanted: BTreeSet<String> = serde_json::from_value(json_of(&version, "facts.json")).unwrap();
            assert_eq!(ids(&node), wanted, "{version}/{name}");
            // It goes on: in a log of its own, for a thawed home is a copy.
            let fact = Fact::from_line(&node.device(), &line("note", json!({"text": "thawed"}))).unwrap();
            node.record(vec![fact]).unwrap();
            assert_eq!(wrong_since_start(&node), Vec::<String>::new(), "{version}/{name}");
        }
    }
}

#[test]
fn bundles_of_every_version_are_read() {
    let dir = tempfile::tempdir().unwrap();
    for version in versions() {
        let depot = Node::open(&thawed(&version, "depot", dir.path()), &Silent).unwrap();
        let invite = depot.invite("newcomer", 3_600).unwrap().to_line();
        let home = dir.path().join(format!("{version}-newcomer"));
        let config = Config::new("newcomer", Role::Laptop, "newcomer", "");
        let mut node = Node::create(&home, &config).unwrap();
        node.join(&invite).unwrap();
        let read = node
            .read_bundle(&frozen().join(&version).join("all.bundle"), &Silent)
            .unwrap();
        assert!(
            read.complete && read.damaged.is_empty() && read.refused.is_empty(),
            "{version}: {read:?}"
        );
        let wanted: BTreeSet<String> = serde_json::from_value(json_of(&version, "facts.json")).unwrap();
        assert_eq!(ids(&node), wanted, "{version}");
    }
}

/// Makes `tests/frozen/<this version>/` and lists it. Refuses to change what is there.
#[test]
#[ignore = "makes the frozen files of this version, once"]
fn freeze_this_version() {
    let target = frozen().join(env!("CARGO_PKG_VERSION"));
    assert!(!target.exists(), "{} is frozen", target.display());
    let dir = tempfile::tempdir().unwrap();
    let (mut depot, mut laptop) = day(dir.path());
    let facts = serde_json::to_string_pretty(&ids(&depot)).unwrap();
    let report = serde_json::to_string_pretty(&depot.report(&Filter::default()).unwrap()).unwrap();
    assert_eq!(ids(&depot), ids(&laptop));
    assert_eq!(laptop.report(&Filter::default()).unwrap().jobs.len(), 3);
    std::fs::create_dir_all(&target).unwrap();
    depot
        .write_bundle(&target.join("all.bundle"), &VersionVector::new(), &Silent)
        .unwrap();
    std::fs::write(target.join("facts.json"), facts + "\n").unwrap();
    std::fs::write(target.join("report.json"), report + "\n").unwrap();
    drop((depot, laptop));
    for name in ["depot", "laptop"] {
        for file in ["format", "key", "config.toml", "mark", "log/00000001.seg"] {
            let to = target.join(name).join(file);
            std::fs::create_dir_all(to.parent().unwrap()).unwrap();
            std::fs::copy(dir.path().join(name).join(file), to).unwrap();
        }
        let pictures = dir.path().join(name).join("pictures");
        if files_below(&pictures).is_empty() {
            continue;
        }
        copy_folder(&pictures, &target.join(name).join("pictures"));
    }
    let mut manifest =
        "# BLAKE3 and path of each frozen file; see tests/tests/frozen.rs. The keys in here belong to nobody.\n"
            .to_owned();
    for (path, hash) in present() {
        manifest.push_str(&format!("{hash}  {path}\n"));
    }
    std::fs::write(frozen().join(MANIFEST), manifest).unwrap();
}

/// A depot and a laptop with a day behind them that has something of everything.
fn day(dir: &Path) -> (Node, Node) {
    let make = |name: &str, role| Node::create(&dir.join(name), &Config::new(name, role, name, "")).unwrap();
    let (mut depot, mut laptop, mut lost) = (
        make("depot", Role::Depot),
        make("laptop", Role::Laptop),
        make("lost", Role::Laptop),
    );
    for node in [&mut laptop, &mut lost] {
        let invite = depot.invite("mara", 3_600).unwrap().to_line();
        node.join(&invite).unwrap();
    }
    record(
        &mut depot,
        &[line(
            "stock",
            json!({"camera": "LC-LT91Z9J", "fleet": "Larkspur Freight"}),
        )],
    );
    record(&mut laptop, &fitting("0302-F1", "LF 5301", "LC-LT91Z9J", "LT500411541"));
    record(&mut laptop, &fitting("0302-F2", "LF 5302", "LC-LT91Z9J", "LT356259101"));
    record(
        &mut laptop,
        &[line(
            "calibration",
            json!({"job": "0302-F2", "of-a-later-version": {"deep": [1, null]}}),
        )],
    );
    record(&mut lost, &notes(2, "on the bus", true)[..1]);
    let bundle = dir.join("bundle");
    let carry = |from: &Node, to: &mut Node| {
        from.write_bundle(&bundle, &VersionVector::new(), &Silent).unwrap();
        to.read_bundle(&bundle, &Silent).unwrap();
    };
    carry(&laptop, &mut depot);
    carry(&lost, &mut depot);
    depot.retire(&lost.device(), None, "left on a bus").unwrap();
    let finding = depot
        .findings()
        .unwrap()
        .iter()
        .find(|f| f.is_open())
        .unwrap()
        .id
        .clone();
    let ruling = json!({"finding": finding, "ruling": "accepted", "why": "looked at it"});
    record(&mut depot, &[line("ruling", ruling)]);
    let reading = gladhand_logbook::roster::ClockReading {
        device: depot.device(),
        peer: laptop.device(),
        offset_us: 90_000_000,
        delay_us: 4_000,
        at_us: 1_772_480_000_000_000,
    };
    depot.note_clock(&reading).unwrap();
    depot.pictures().put(b"not much of a picture").unwrap();
    carry(&depot, &mut laptop);
    carry(&laptop, &mut depot);
    (depot, laptop)
}

fn record(node: &mut Node, lines: &[String]) {
    let device = node.device();
    let facts = lines
        .iter()
        .map(|line| Fact::from_line(&device, line).unwrap())
        .collect();
    node.record(facts).unwrap();
}
