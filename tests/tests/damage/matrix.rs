//! The matrix: every kind of file of a home × deleted, cut, flipped, zeroed, its halves swapped, another file in its place
//! × (closed in good order, killed in the middle of a write) × (before, after a merge).
//!
//! Whatever was struck, the same must come of it: no command panics; `verify` names what is damaged and cannot be made
//! anew; opening repairs the rest; a peer's bundle brings back what was lost; and then the home verifies, answers as the depot
//! does, and records on.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use gladhand_facts::{Fact, VersionVector};
use gladhand_node::{Node, Silent};
use gladhand_reconcile::Finding;
use gladhand_tests::facts::line;
use gladhand_tests::{Home, Ran, files_below};
use serde_json::json;

use crate::scene::{Blow, Case, SEGMENT, Scene, scene};

/// What losing or damaging a file may come to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// The record: named, evidence kept, fetched again.
    Journal,
    /// Named when it is not what its name says, fetched again.
    Picture,
    /// Nothing works without it, and nothing is harmed.
    Identity,
    /// Text for people: named when it does not read.
    Config,
    /// Made anew, or nobody's truth: no answer changes.
    Derived,
}

fn kind_of(name: &str) -> Kind {
    match name {
        "key" | "format" => Kind::Identity,
        "config.toml" => Kind::Config,
        _ if name.starts_with("log/") => Kind::Journal,
        _ if name.starts_with("pictures/") => Kind::Picture,
        _ => Kind::Derived,
    }
}

/// Besides what every home has: the files that a network, an inbox and an earlier repair leave.
fn with_everything(home: &Home) {
    let note = line("note", json!({"text": "waiting"}));
    let peers = format!(
        "{{\"{}\":{{\"addresses\":[\"192.168.1.20:7401\"],\"met_us\":5}}}}",
        "ab".repeat(32)
    );
    let refused = json!({"line": 1, "reason": "not JSON", "text": "{"}).to_string();
    for (name, text) in [
        ("peers.json", peers),
        ("inbox/waiting.jsonl", note.clone()),
        ("inbox/done/earlier.jsonl", note),
        ("inbox/rejected/earlier.jsonl.rejected.jsonl", refused),
        ("evidence/00000001.seg-0-20260302", "what once was damaged".into()),
    ] {
        std::fs::write(home.file(name), text).unwrap();
    }
}

/// The home as a kill in the middle of an append leaves it: half a batch at the end of the journal, and an index that nobody
/// closed. (Real kills, byte by byte: `killed.rs`.)
fn killed(home: &Home, aside: &Path) {
    let goes_on = home.stand_in(aside);
    goes_on.record(&[line("note", json!({"text": "never acknowledged"}))]);
    let whole = std::fs::read(goes_on.file(SEGMENT)).unwrap();
    let end = std::fs::metadata(home.file(SEGMENT)).unwrap().len() as usize;
    assert!(whole.len() > end + 100);
    std::fs::write(home.file(SEGMENT), &whole[..end + (whole.len() - end) / 2]).unwrap();
    std::fs::remove_file(home.file("index/clean")).unwrap();
}

struct DamagedHome {
    scene: Arc<Scene>,
    name: &'static str,
    home: Home,
    was_killed: bool,
    /// What the depot holds and finds.
    depot: (VersionVector, Vec<Finding>),
}

impl DamagedHome {
    fn make(name: &'static str, merged: bool, was_killed: bool) -> Self {
        let scene = scene();
        let from = if merged { scene.device() } else { &scene.early };
        let home = from.stand_in(scene.fleet.dir().join(name));
        with_everything(&home);
        if was_killed {
            killed(&home, &scene.fleet.dir().join(format!("{name}, goes on")));
        }
        let depot = scene
            .fleet
            .depot
            .stand_in(scene.fleet.dir().join(format!("{name}, depot")));
        let mut depot = Node::open(&depot.path, &Silent).unwrap();
        let depot = (depot.book().vector(), depot.findings().unwrap());
        Self {
            scene,
            name,
            home,
            was_killed,
            depot,
        }
    }

    /// All blows on all files; how many there were.
    fn strike_all(&self) {
        let files = files_below(&self.home.path);
        let mut struck = 0;
        for file in &files {
            let name = file.to_str().unwrap();
            let len = usize::try_from(std::fs::metadata(self.home.file(file)).unwrap().len()).unwrap();
            for blow in blows(name, len) {
                self.case(name, &format!("{blow:?}"), |home| blow.strike(&home.file(name)));
                struck += 1;
            }
        }
        for (name, other) in self.pairs(&files) {
            let what = format!("with {} in its place", other.display());
            self.case(&name, &what, |home| {
                std::fs::copy(home.file(&other), home.file(&name)).unwrap();
            });
            struck += 1;
        }
        println!(
            "matrix: {}: {struck} files damaged, {} kinds of files",
            self.name,
            files.len()
        );
        assert!(files.len() >= 15 && struck >= 50, "{struck} of {files:?}");
    }

    /// Another file in the place of each that matters.
    fn pairs(&self, files: &[PathBuf]) -> Vec<(String, PathBuf)> {
        let picture = files.iter().find(|f| f.starts_with("pictures")).expect("a picture");
        let database = files.iter().find(|f| f.starts_with("index/1")).expect("an index");
        [
            (SEGMENT, picture.as_path()),
            (SEGMENT, database),
            (picture.to_str().unwrap(), Path::new(SEGMENT)),
            (database.to_str().unwrap(), Path::new(SEGMENT)),
            ("key", Path::new("mark")),
            ("mark", Path::new("key")),
            ("config.toml", Path::new("peers.json")),
            ("peers.json", Path::new("config.toml")),
        ]
        .map(|(name, other)| (name.to_owned(), other.to_path_buf()))
        .to_vec()
    }

    fn case(&self, name: &str, how: &str, strike: impl FnOnce(&Home)) {
        let case = self.scene.case_of(&self.home);
        let what = format!("{}: {name}: {how}", self.name);
        let good = std::fs::read(case.device.file(name)).unwrap();
        strike(&case.device);
        let verified = case.device.run(&["verify"]);
        let said = format!("{}{}", verified.out, verified.err);
        match kind_of(name) {
            Kind::Identity => {
                assert_eq!(verified.code, Some(1), "{what}: {verified}");
                assert!(said.contains(name), "{what} is not named: {verified}");
                std::fs::write(case.device.file(name), good).unwrap();
            }
            Kind::Config if verified.code != Some(0) => {
                assert!(
                    matches!(verified.code, Some(1 | 2)) && (self.was_killed || said.contains(name)),
                    "{what}: {verified}"
                );
                std::fs::write(case.device.file(name), good).unwrap();
            }
            Kind::Config => std::fs::write(case.device.file(name), good).unwrap(),
            Kind::Derived => {
                // The write that was cut short is named once.
                let cut_short = self.was_killed && said.contains("unfinished write");
                let mark = name == "mark" && said.contains("mark: it was damaged");
                let fine = verified.code == Some(0) || cut_short || mark;
                assert!(fine, "{what}: {verified}");
            }
            Kind::Picture => {
                let named = case.device.file(name).exists() && std::fs::read(case.device.file(name)).unwrap() != good;
                let stem = Path::new(name).file_stem().unwrap().to_str().unwrap();
                assert!(
                    !named || verified.code == Some(1) && said.contains(stem),
                    "{what}: {verified}"
                );
            }
            Kind::Journal => self.journal_is_named(&case, &what, &verified),
        }
        self.is_whole_again(&case, &what);
        std::fs::remove_dir_all(&case.dir).unwrap();
    }

    /// A journal that is gone, or ends where a batch ended, looks whole to itself: only the index tells.
    fn journal_is_named(&self, case: &Case<'_>, what: &str, verified: &Ran) {
        assert_eq!(verified.code, Some(1), "{what}: {verified}");
        let said = format!("{}{}", verified.out, verified.err);
        let named = said.contains("00000001.seg") || said.contains("the end is missing");
        assert!(named, "{what} is not named: {verified}");
        let traceless = what.ends_with("Delete") || what.ends_with("Cut(0)");
        assert!(
            traceless || case.evidence().len() > 1,
            "{what} leaves no evidence: {verified}"
        );
    }

    /// The depot's bundle, then everything as it should be. In this process: the binary has met the damage, and what it
    /// left is an ordinary home.
    fn is_whole_again(&self, case: &Case<'_>, what: &str) {
        let mut node = Node::open(&case.device.path, &Silent).unwrap_or_else(|e| panic!("{what}: {e}"));
        node.read_bundle(&self.scene.bundle, &Silent).unwrap();
        let (held, wanted) = (node.book().vector(), &self.depot.0);
        assert!(held.covers(wanted), "{what}: {held:?} instead of {wanted:?}");
        assert_eq!(node.findings().unwrap(), self.depot.1, "{what}");
        let verified = node.verify(&Silent).unwrap();
        // Told until the new log is begun, with the fact below.
        let old = |place: &str| self.was_killed && place.ends_with(".seg") || place.ends_with("/mark");
        assert!(verified.wrong.iter().all(|w| old(&w.place)), "{what}: {verified:?}");
        let note = Fact::from_line(&node.device(), &line("note", json!({"text": what}))).unwrap();
        let receipts = node.record(vec![note]).unwrap();
        assert_eq!(receipts.len(), 1, "{what}");
        node.close().unwrap();
    }
}

fn blows(name: &str, len: usize) -> Vec<Blow> {
    if len < 2 {
        return vec![Blow::Delete];
    }
    let last = len - 1;
    match kind_of(name) {
        Kind::Journal => vec![
            Blow::Delete,
            Blow::Cut(len / 2),
            Blow::Cut(0),
            Blow::Flip(len / 3),
            Blow::Flip(last),
            Blow::Flip(10),
            Blow::Zero,
            Blow::Swap,
        ],
        Kind::Derived if !name.starts_with("index/") && name != "mark" => vec![Blow::Delete, Blow::Swap],
        _ => vec![Blow::Delete, Blow::Cut(len / 2), Blow::Flip(len / 2), Blow::Zero],
    }
}

#[test]
fn every_file_struck_in_a_closed_home_before_a_merge() {
    DamagedHome::make("closed, before", false, false).strike_all();
}

#[test]
fn every_file_struck_in_a_closed_home_after_a_merge() {
    DamagedHome::make("closed, after", true, false).strike_all();
}

#[test]
fn every_file_struck_in_a_killed_home_before_a_merge() {
    DamagedHome::make("killed, before", false, true).strike_all();
}

#[test]
fn every_file_struck_in_a_killed_home_after_a_merge() {
    DamagedHome::make("killed, after", true, true).strike_all();
}
