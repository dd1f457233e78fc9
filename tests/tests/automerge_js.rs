//! The exported job documents load in `@automerge/automerge` of npm with equal heads, fields and facts, all concurrent
//! values among them.
//!
//! Needs node, and the package: `npm ci` in `tests/node` (`.ci/run` does it). Without them the second half is skipped, and
//! says so; with `NODE=required` in the environment that is a failure.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::collections::BTreeSet;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

use gladhand_tests::facts::{fitting, line};
use gladhand_tests::{Fleet, Home, demo_data, repository};
use serde_json::{Value, json};

/// A job that three devices know, whose fields they set side by side, with values of every sort.
const DISPUTED: &str = "0302-J1";

fn disputed(by: &str, thickness: &str) -> String {
    let fields = json!({"job": DISPUTED, "thickness": thickness, "assigned": by, "at": "2026-03-02T20:00:00-05:00"});
    line("job", fields)
}

/// Keys that no version knows, and values that travel badly: quotes, other scripts, whole and broken numbers, truths, nests.
fn odd(job: &str) -> String {
    let fields = json!({"job": job, "at": "2026-03-02T20:10:00-05:00", "trailer": "LF \"5301\" \u{1f69b} Grüße 冷蔵",
        "doors": 2, "tare_t": 6.25, "far": 9007199254740991i64, "under": -3, "loaded_high": false, "swing_doors": true,
        "axles": {"front": [1, 2], "rear": null}, "empty_text": ""});
    line("job", fields)
}

/// The homes after a day of work: the depot holds everything.
fn scene() -> Fleet {
    let fleet = Fleet::enrolled(&["mara", "ilse"]);
    let (mara, ilse) = (&fleet.laptops[0], &fleet.laptops[1]);
    mara.record(&fitting(DISPUTED, "LF 5301", "LC-LT91Z9J", "LT500411541"));
    fleet.exchange_all();
    for (home, by, thickness) in [
        (mara, "mara", "3/4 in"),
        (ilse, "ilse", "5/8 in"),
        (&fleet.depot, "bram", "19 mm"),
    ] {
        home.record(&[disputed(by, thickness), odd(&format!("0302-{by}"))]);
    }
    for (home, file) in [(mara, "02-mara-afternoon.jsonl"), (ilse, "03-ilse-afternoon.jsonl")] {
        home.run(&["record", demo_data().join(file).to_str().unwrap()]).done();
    }
    fleet.exchange_all();
    fleet
}

fn exported(home: &Home, dir: &Path) -> Vec<Value> {
    home.run(&["export", "--automerge", dir.to_str().unwrap()]).done();
    let list: Value = serde_json::from_slice(&std::fs::read(dir.join("jobs.json")).unwrap()).unwrap();
    list.as_array().unwrap().clone()
}

#[test]
fn exported_documents_load_in_javascript_with_equal_heads_fields_and_facts() {
    let fleet = scene();
    let dir = fleet.dir().join("documents");
    let listed = exported(&fleet.depot, &dir);
    assert!(listed.len() > 12, "{} documents", listed.len());
    the_same_from_every_node(&fleet, &listed);
    let Some(loaded) = in_javascript(&dir) else { return };
    assert_eq!(loaded.len(), listed.len());
    for (ours, theirs) in listed.iter().zip(&loaded) {
        let job = ours["job"].as_str().unwrap();
        assert_eq!(theirs["job"], ours["job"]);
        assert_eq!(theirs["heads"], ours["heads"], "heads of {job}");
        assert_eq!(
            theirs["heads_saved_again"], ours["heads"],
            "heads of {job} once it was saved there"
        );
        assert_eq!(fields(theirs), fields(ours), "fields of {job}");
        assert_eq!(
            theirs["facts"].as_array().unwrap().len() as u64,
            ours["facts"].as_u64().unwrap()
        );
        assert_eq!(facts_in(theirs), facts_of(&fleet.depot, job), "facts of {job}");
    }
    let disputed = loaded.iter().find(|doc| doc["job"] == DISPUTED).unwrap();
    assert_eq!(
        disputed["fields"]["thickness"].as_array().unwrap().len(),
        3,
        "three values side by side"
    );
    println!("{} documents loaded in JavaScript", loaded.len());
}

/// Equal histories give documents of equal heads and fields; their bytes may differ, for they tell in which order it came.
fn the_same_from_every_node(fleet: &Fleet, listed: &[Value]) {
    let other = exported(&fleet.laptops[1], &fleet.dir().join("documents-of-ilse"));
    assert_eq!(other.len(), listed.len());
    for (here, there) in listed.iter().zip(&other) {
        assert_eq!(
            (&here["heads"], fields(here)),
            (&there["heads"], fields(there)),
            "{}",
            here["job"]
        );
    }
}

/// Each field with its values in the order of their JSON.
fn fields(doc: &Value) -> Vec<(String, BTreeSet<String>)> {
    let values = |v: &Value| v.as_array().unwrap().iter().map(number_as_one).collect();
    doc["fields"]
        .as_object()
        .unwrap()
        .iter()
        .map(|(name, v)| (name.clone(), values(v)))
        .collect()
}

/// JavaScript knows one sort of number: 2 and 2.0 are the same.
fn number_as_one(value: &Value) -> String {
    value.as_f64().map_or_else(|| value.to_string(), |n| n.to_string())
}

fn facts_in(doc: &Value) -> BTreeSet<String> {
    let parse = |text: &Value| shown(serde_json::from_str(text.as_str().unwrap()).unwrap());
    doc["facts"].as_array().unwrap().iter().map(parse).collect()
}

fn facts_of(home: &Home, job: &str) -> BTreeSet<String> {
    home.history(&["--job", job])
        .into_iter()
        .map(|line| shown(line["fact"].clone()))
        .collect()
}

/// A fact as it is shown: without the note of which keys the device filled in.
fn shown(mut fact: Value) -> String {
    fact.as_object_mut().unwrap().remove("_filled");
    fact.to_string()
}

/// What the documents in `dir` hold when JavaScript loads them; `None` where it cannot.
fn in_javascript(dir: &Path) -> Option<Vec<Value>> {
    let scripts = scripts();
    let node = Command::new("node").arg("--version").output();
    if !node.is_ok_and(|node| node.status.success()) {
        return skipped("there is no node here");
    }
    if !scripts.join("node_modules/@automerge/automerge").is_dir() {
        return skipped("tests/node has no node_modules: run `npm ci` there");
    }
    let output = Command::new("node")
        .arg(scripts.join("check.mjs"))
        .arg(dir)
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "check.mjs: {said}");
    let text = String::from_utf8(output.stdout).unwrap();
    Some(text.lines().map(|line| serde_json::from_str(line).unwrap()).collect())
}

fn scripts() -> PathBuf {
    repository().join("tests/node")
}

/// Says so past the harness, which keeps what a passing test prints to itself.
fn skipped<T>(why: &str) -> Option<T> {
    let required = std::env::var_os("NODE").is_some_and(|v| v == "required");
    assert!(!required, "NODE=required, and {why}");
    let line = format!("\nSKIPPED loading documents in JavaScript: {why}\n");
    std::io::stderr().write_all(line.as_bytes()).unwrap();
    None
}
