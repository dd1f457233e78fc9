//! Equal version vectors give byte-equal findings and reports, through real homes and real bundles, whatever was recorded
//! where, whoever met whom in what order, with stale, repeated, partial and lost bundles.
//!
//! Homes are opened in this process, for speed; what they hold goes through the same files. Each case is a random day of
//! a depot and three laptops. The findings that a node keeps up to date fact by fact are also held against judging everything anew.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::cell::{Cell, RefCell};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use gladhand_facts::{Fact, VersionVector};
use gladhand_node::config::{Config, Role};
use gladhand_node::{Node, Silent};
use gladhand_reconcile::{Filter, World, judge_all};
use gladhand_tests::SeededRng;
use proptest::prelude::*;
use proptest::test_runner::{Config as Cases, RngAlgorithm, TestCaseError, TestRng, TestRunner};
use serde_json::{Value, json};
use tempfile::TempDir;

const NODES: usize = 4;

/// One fact as rng throws it: what kind, on which job, with which of a few parts.
#[derive(Debug, Clone)]
struct Throw {
    kind: u8,
    job: u8,
    part: u8,
    other: u8,
    minute: u16,
}

/// What happens next.
#[derive(Debug, Clone)]
enum Step {
    /// A device records something.
    Record(usize, Vec<Throw>),
    /// A node writes a bundle and another one reads it at once.
    Carry(usize, usize, Cut),
    /// A node writes a bundle that stays in a pocket.
    Pocket(usize, usize, Cut),
    /// A node reads some bundle of the day, perhaps again, perhaps meant for another.
    Find(usize, usize),
    /// A node is closed and opened again.
    Reopen(usize),
}

/// How much a bundle holds.
#[derive(Debug, Clone, Copy)]
enum Cut {
    Everything,
    /// What the reader is known to lack.
    For,
    /// What lies beyond what the reader held some steps ago.
    Since,
}

fn any_throw() -> impl Strategy<Value = Throw> {
    (0u8..14, 0u8..5, 0u8..4, 0u8..4, 0u16..600).prop_map(|(kind, job, part, other, minute)| Throw {
        kind,
        job,
        part,
        other,
        minute,
    })
}

fn any_step() -> impl Strategy<Value = Step> {
    let cut = prop_oneof![Just(Cut::Everything), Just(Cut::For), Just(Cut::Since)];
    let node = 0..NODES;
    prop_oneof![
        5 => (node.clone(), proptest::collection::vec(any_throw(), 1..7)).prop_map(|(n, t)| Step::Record(n, t)),
        3 => (node.clone(), node.clone(), cut.clone()).prop_map(|(a, b, c)| Step::Carry(a, b, c)),
        2 => (node.clone(), node.clone(), cut).prop_map(|(a, b, c)| Step::Pocket(a, b, c)),
        2 => (node.clone(), any::<usize>()).prop_map(|(n, which)| Step::Find(n, which)),
        1 => node.prop_map(Step::Reopen),
    ]
}

/// The fact that a throw makes. Few jobs and parts, so that devices get into each other's way.
fn fact_of(throw: &Throw, node: &mut Node) -> Value {
    let (part, other) = (usize::from(throw.part), usize::from(throw.other));
    let camera = ["LC-LT91Z9J", "LC-P9D0K5X", "LC-N6Z1V25", "LC-N6Z8V25"][part];
    let tracker = ["LT500411541", "LT356259101", "LT765406210", "LT515506913"][other];
    let thickness = ["3/4 in", "5/8 in", "19 mm", "0.75in"][part];
    let live = ["asked", "live", "failed"][part % 3];
    let proved = ["asked", "taken", "judged"][part % 3];
    let check = ["pilot-hole", "pilot-sealed", "hole-cut", "placement-top"][part];
    let fleet = ["Larkspur Freight", "Osier Haulage"][other % 2];
    let job = format!("0302-P{}", throw.job);
    let at = format!(
        "2026-03-02T{:02}:{:02}:00-05:00",
        12 + throw.minute / 60,
        throw.minute % 60
    );
    let mut fact = match throw.kind {
        0 => json!({"kind": "job", "trailer": format!("LF 530{part}"), "fleet": fleet}),
        1 => json!({"kind": "job", "thickness": thickness}),
        2 => json!({"kind": "job", "tracker": tracker, "wall": "plate", "load": "loaded"}),
        3 | 4 => json!({"kind": "link", "camera": camera, "tracker": tracker}),
        5 => json!({"kind": "unlink", "camera": camera, "tracker": tracker, "why": "wrong carton"}),
        6 => json!({"kind": "settings", "tracker": tracker, "state": live}),
        7 => {
            json!({"kind": "proof", "state": proved, "ok": true, "taken_at": at, "answers": {"lens-clear": other != 0}})
        }
        8 => json!({"kind": "sign-off"}),
        9 => json!({"kind": "check", "check": check, "value": format!("{} mm", 20 + other), "ok": other != 1}),
        10 => json!({"kind": "stand-down", "why": "it does not report"}),
        11 => json!({"kind": "stock", "camera": camera, "fleet": fleet}),
        12 => json!({"kind": "weather", "sky": part}),
        _ => ruling(throw, node),
    };
    fact["at"] = at.into();
    if !matches!(fact["kind"].as_str(), Some("stock" | "ruling")) {
        fact["job"] = job.into();
    }
    fact
}

/// Settles some finding that is here, if there is one.
fn ruling(throw: &Throw, node: &mut Node) -> Value {
    let found = node.findings().unwrap();
    match found.get(usize::from(throw.part) % found.len().max(1)) {
        Some(finding) => json!({"kind": "ruling", "finding": finding.id, "ruling": "accepted", "why": "seen"}),
        None => json!({"kind": "note", "text": "nothing to settle"}),
    }
}

/// A depot and its laptops, with everything they carried.
struct Yard {
    dir: TempDir,
    nodes: Vec<Option<Node>>,
    bundles: Vec<PathBuf>,
    /// What each node held at its last bundle but some: stale on purpose.
    stale: Vec<VersionVector>,
    compared: usize,
    /// The rules that found something.
    rules: BTreeSet<String>,
}

impl Yard {
    fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let mut nodes: Vec<Node> = (0..NODES).map(|n| create(dir.path(), n)).collect();
        for n in 1..NODES {
            let invite = nodes[0].invite("", 3_600).unwrap().to_line();
            nodes[n].join(&invite).unwrap();
        }
        Self {
            dir,
            nodes: nodes.into_iter().map(Some).collect(),
            bundles: Vec::new(),
            stale: vec![VersionVector::new(); NODES],
            compared: 0,
            rules: BTreeSet::new(),
        }
    }

    fn node(&mut self, n: usize) -> &mut Node {
        self.nodes[n].as_mut().unwrap()
    }

    fn write(&mut self, from: usize, to: usize, cut: Cut) -> PathBuf {
        let reader = self.node(to).device();
        let since = match cut {
            Cut::Everything => VersionVector::new(),
            Cut::For => self.node(from).book().known_by(&reader),
            Cut::Since => self.stale[to].clone(),
        };
        self.stale[to] = self.node(to).book().vector();
        let file = self.dir.path().join(format!("{:04}.bundle", self.bundles.len()));
        self.node(from).write_bundle(&file, &since, &Silent).unwrap();
        self.bundles.push(file.clone());
        file
    }

    /// Reads a bundle. It may lack what lies before it, but nothing about it may be wrong.
    fn read(&mut self, n: usize, file: &Path) -> Result<(), TestCaseError> {
        let read = self.node(n).read_bundle(file, &Silent).unwrap();
        prop_assert!(read.complete, "{read:?}");
        let is_gap = |why: &String| why.contains("we hold it up to") || why.contains("that are not here");
        prop_assert!(read.damaged.iter().all(is_gap), "{:?}", read.damaged);
        Ok(())
    }

    fn play(&mut self, step: &Step) -> Result<(), TestCaseError> {
        match step {
            Step::Record(n, throws) => {
                for throw in throws {
                    let object = fact_of(throw, self.node(*n));
                    let device = self.node(*n).device();
                    let fact = Fact::from_map(&device, object.as_object().unwrap().clone()).unwrap();
                    self.node(*n).record(vec![fact]).unwrap();
                }
            }
            Step::Carry(from, to, cut) if from != to => {
                let file = self.write(*from, *to, *cut);
                self.read(*to, &file)?;
                self.compare()?;
            }
            Step::Pocket(from, to, cut) if from != to => drop(self.write(*from, *to, *cut)),
            Step::Find(n, which) if !self.bundles.is_empty() => {
                let file = self.bundles[which % self.bundles.len()].clone();
                self.read(*n, &file)?;
            }
            Step::Reopen(n) => {
                let node = self.nodes[*n].take().unwrap();
                let path = node.home().layout().path().to_path_buf();
                node.close().unwrap();
                self.nodes[*n] = Some(Node::open(&path, &Silent).unwrap());
            }
            Step::Carry(..) | Step::Pocket(..) | Step::Find(..) => {}
        }
        Ok(())
    }

    /// Nodes that hold the same answer the same.
    fn compare(&mut self) -> Result<(), TestCaseError> {
        let mut answers: BTreeMap<String, (usize, String)> = BTreeMap::new();
        for n in 0..NODES {
            let held = self.node(n).book().vector().to_string();
            let answer = answer(self.node(n));
            let found = self.node(n).findings().unwrap();
            self.rules.extend(found.iter().map(|finding| finding.rule.to_string()));
            if let Some((other, expected)) = answers.get(&held) {
                prop_assert_eq!(&answer, expected, "nodes {} and {} hold the same", other, n);
                self.compared += 1;
            }
            answers.entry(held).or_insert((n, answer));
        }
        Ok(())
    }

    /// Everybody meets everybody in any order until nobody learns anything more.
    fn meet_until_quiet(&mut self, rng: &mut SeededRng) -> Result<(), TestCaseError> {
        let mut pairs: Vec<(usize, usize)> = (0..NODES).flat_map(|a| (0..NODES).map(move |b| (a, b))).collect();
        pairs.retain(|(a, b)| a != b);
        for _ in 0..NODES {
            rng.shuffle(&mut pairs);
            for (from, to) in pairs.clone() {
                let theirs = self.node(to).book().vector();
                if self.node(from).plan_for(&theirs).is_empty() {
                    continue;
                }
                let cut = *rng.pick(&[Cut::Everything, Cut::For]);
                let file = self.write(from, to, cut);
                self.read(to, &file)?;
            }
        }
        let first = self.node(0).book().vector();
        for n in 1..NODES {
            prop_assert_eq!(
                self.node(n).book().vector(),
                first.clone(),
                "node {} after all meetings",
                n
            );
        }
        self.compare()
    }

    /// A laptop that comes new reads every bundle of the day in any order, some twice, until nothing new comes of it.
    fn newcomer(&mut self, rng: &mut SeededRng) -> Result<(), TestCaseError> {
        let invite = self.node(0).invite("", 3_600).unwrap().to_line();
        let mut new = create(self.dir.path(), NODES);
        new.join(&invite).unwrap();
        self.nodes.push(Some(new));
        let mut files = self.bundles.clone();
        loop {
            rng.shuffle(&mut files);
            let before = self.node(NODES).book().vector();
            for file in &files {
                self.read(NODES, file)?;
            }
            if self.node(NODES).book().vector() == before {
                break;
            }
        }
        // It has its own first entries beside what the others hold; those give no finding.
        let everybody = self.node(0).book().vector();
        let held = self.node(NODES).book().vector();
        prop_assert!(
            everybody.iter().all(|(log, head)| held.get(&log) == head),
            "{} of {}",
            held,
            everybody
        );
        let (here, there) = (findings(self.node(NODES)), findings(self.node(0)));
        prop_assert_eq!(here, there, "the newcomer and the depot");
        Ok(())
    }
}

fn create(dir: &Path, n: usize) -> Node {
    let role = if n == 0 { Role::Depot } else { Role::Laptop };
    let name = format!("node-{n}");
    Node::create(&dir.join(&name), &Config::new(&name, role, &format!("person-{n}"), "")).unwrap()
}

fn findings(node: &mut Node) -> String {
    serde_json::to_string_pretty(&node.findings().unwrap()).unwrap()
}

/// Findings and report, as the command line would print them; the findings as they are kept, and as they are when
/// everything is judged anew.
fn answer(node: &mut Node) -> String {
    let kept = findings(node);
    let standard = node.standard();
    let clocks = node.clocks();
    let facts = node.all_facts().unwrap();
    let world = World {
        facts: &facts,
        standard: &standard,
        clocks: &clocks,
    };
    let anew = serde_json::to_string_pretty(&judge_all(&world)).unwrap();
    assert_eq!(kept, anew, "findings that were kept up to date, and all judged anew");
    let report = node.report(&Filter::default()).unwrap();
    format!("{kept}\n{}", serde_json::to_string_pretty(&report).unwrap())
}

#[test]
fn equal_vectors_give_equal_answers_whatever_happened() {
    // For a night: DAYS=2000.
    let days = std::env::var("DAYS").ok().and_then(|days| days.parse().ok());
    let cases = Cases {
        cases: days.unwrap_or(10),
        failure_persistence: None,
        max_shrink_iters: 40,
        ..Cases::default()
    };
    let rng = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let (compared, rules) = (Cell::new(0), RefCell::new(BTreeSet::new()));
    let days = proptest::collection::vec(any_step(), 12..36);
    let outcome = TestRunner::new_with_rng(cases, rng).run(&(days, any::<u64>()), |(day, seed)| {
        let mut rng = SeededRng::new(seed);
        let mut yard = Yard::new();
        for step in &day {
            yard.play(step)?;
        }
        yard.meet_until_quiet(&mut rng)?;
        yard.newcomer(&mut rng)?;
        compared.set(compared.get() + yard.compared);
        rules.borrow_mut().append(&mut yard.rules);
        Ok(())
    });
    println!("{} pairs of nodes that held the same were compared", compared.get());
    println!("rules that found something: {:?}", rules.borrow());
    outcome.unwrap();
    assert!(
        compared.get() >= 30 && rules.borrow().len() >= 12,
        "the days are too quiet to show anything"
    );
}
