//! `--as-known-by` is what a device really answered: a day of real homes is played, each device's answers are taken down
//! right after it recorded something, and in the evening the depot is asked what each device knew at each of these moments.
//!
//! The day has everything that could leak in from later: clocks that are hours wrong and are measured only in the course of the
//! day, a work standard published at noon, a laptop that records before it joins, one that is retired at a place that
//! others had long gone past, one whose home is restored from a copy. `MOMENTS=1000` plays a longer one.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs
)]

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use gladhand_facts::{Fact, LogId};
use gladhand_logbook::roster::ClockReading;
use gladhand_node::config::{Config, Role};
use gladhand_node::{Environment, History, HistoryQuery, Node, Silent};
use gladhand_reconcile::Subject;
use gladhand_trade::standard::BUILT_IN;
use serde_json::{Value, json};

const NAMES: [&str; 5] = [
    "harrow-street",
    "laptop-mara",
    "laptop-ilse",
    "laptop-tomas",
    "laptop-ruth",
];
/// How wrong the clocks are, in minutes: right, a little, hours, a year.
const WRONG_MIN: [i64; 5] = [0, 7, -190, 525_600, 2];
const RUTH: usize = 4;
const CAMERAS: [&str; 4] = ["LC-LT91Z9J", "LC-P9D0K5X", "LC-N6Z1V25", "LC-N6Z8V25"];
const TRACKERS: [&str; 3] = ["LT500411541", "LT356259101", "LT765406210"];
const TRAILERS: [&str; 2] = ["LF 5301", "LF 5302"];
const JOBS: [&str; 4] = ["M01", "M02", "I01", "T01"];
/// 2026-03-02T12:00:00Z.
const NOON_US: i64 = 1_772_452_800_000_000;

/// A small generator that is the same on every run (xorshift64*).
struct Dice(u64);

impl Dice {
    fn roll(&mut self, below: usize) -> usize {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 33) as usize % below
    }

    fn of<'a>(&mut self, list: &[&'a str]) -> &'a str {
        list[self.roll(list.len())]
    }
}

/// What a device answered right after one of its entries.
struct KnownMoment {
    device: usize,
    log: LogId,
    seq: u64,
    /// What was asked of the history, and the answer.
    history: (HistoryQuery, String),
    findings: String,
}

struct Day {
    dir: tempfile::TempDir,
    nodes: Vec<Option<Node>>,
    minutes: Arc<AtomicI64>,
    dice: Dice,
    moments: Vec<KnownMoment>,
    count: u64,
}

fn environment(n: usize, minutes: &Arc<AtomicI64>) -> Environment {
    let minutes = Arc::clone(minutes);
    Environment {
        now_us: Arc::new(move || NOON_US + (minutes.load(Ordering::Relaxed) + WRONG_MIN[n]) * 60_000_000),
        machine_id: "the machine of this test".into(),
        ..Environment::machine()
    }
}

fn text<T: serde::Serialize>(value: &T) -> String {
    serde_json::to_string_pretty(value).unwrap()
}

fn told(history: &History) -> String {
    format!("{}\n{}", text(&history.lines), text(&history.findings))
}

/// The whole history now and then, otherwise that of something, with its findings.
fn question(dice: &mut Dice) -> HistoryQuery {
    let subject = match dice.roll(8) {
        0 => return HistoryQuery::default(),
        1 | 2 => Subject::Job(dice.of(&JOBS).to_owned()),
        3 => Subject::Tracker(dice.of(&TRACKERS).to_owned()),
        4 => Subject::Trailer(dice.of(&TRAILERS).to_owned()),
        _ => Subject::Camera(dice.of(&CAMERAS).to_owned()),
    };
    HistoryQuery {
        subjects: vec![subject],
        findings: true,
        ..HistoryQuery::default()
    }
}

impl Day {
    fn new(seed: u64) -> Self {
        let (dir, minutes) = (tempfile::tempdir().unwrap(), Arc::new(AtomicI64::new(0)));
        let create = |n: usize| {
            let role = if n == 0 { Role::Depot } else { Role::Laptop };
            let config = Config::new(NAMES[n], role, NAMES[n].rsplit('-').next().unwrap(), "");
            Node::create_with(&dir.path().join(NAMES[n]), &config, environment(n, &minutes)).unwrap()
        };
        let nodes = (0..NAMES.len()).map(|n| Some(create(n))).collect();
        Self {
            nodes,
            dir,
            minutes,
            dice: Dice(seed),
            moments: Vec::new(),
            count: 0,
        }
    }

    fn node(&mut self, n: usize) -> &mut Node {
        self.nodes[n].as_mut().unwrap()
    }

    fn path(&self, n: usize) -> PathBuf {
        self.nodes[n].as_ref().unwrap().home().layout().path().to_path_buf()
    }

    fn join(&mut self, n: usize) {
        let invite = self.node(0).invite("", 10 * 365 * 86_400).unwrap().to_line();
        self.node(n).join(&invite).unwrap();
    }

    /// A fact of few jobs and parts, so that devices get into each other's way.
    fn fact(&mut self, n: usize) -> Value {
        let dice = &mut self.dice;
        let (camera, tracker) = (dice.of(&CAMERAS), dice.of(&TRACKERS));
        let fleet = dice.of(&["Larkspur Freight", "Osier Haulage"]);
        let mut fact = match dice.roll(13) {
            0 => json!({"kind": "job", "trailer": dice.of(&TRAILERS), "fleet": fleet}),
            1 => {
                json!({"kind": "job", "thickness": dice.of(&["3/4 in", "5/8 in", "19 mm"]), "wall": "plate", "load": "loaded"})
            }
            2 | 3 => json!({"kind": "link", "camera": camera, "tracker": tracker}),
            4 => json!({"kind": "unlink", "camera": camera, "tracker": tracker, "why": "wrong carton"}),
            5 => {
                json!({"kind": "settings", "tracker": tracker, "camera": camera, "state": dice.of(&["asked", "live"])})
            }
            6 => json!({"kind": "proof", "state": dice.of(&["asked", "taken", "judged"]), "ok": true}),
            7 => json!({"kind": "sign-off"}),
            8 => {
                json!({"kind": "check", "check": dice.of(&["pilot-hole", "hole-diameter"]), "value": dice.of(&["1 3/4 in", "2 in"])})
            }
            9 => json!({"kind": "stock", "camera": camera, "fleet": fleet}),
            10 => json!({"kind": "weather", "sky": "low"}),
            11 => return self.ruling(n),
            _ => {
                json!({"kind": "settings", "tracker": tracker, "state": "live", "clock": "reference", "at": self.server_time()})
            }
        };
        if fact["kind"] != "stock" {
            fact["job"] = self.dice.of(&JOBS).into();
        }
        fact
    }

    fn server_time(&self) -> String {
        let us = NOON_US + self.minutes.load(Ordering::Relaxed) * 60_000_000;
        gladhand_facts::Moment::from_unix_us(us, -18_000).text().to_owned()
    }

    fn ruling(&mut self, n: usize) -> Value {
        let found = self.node(n).findings().unwrap();
        let pick = self.dice.roll(found.len().max(1));
        match found.get(pick) {
            Some(f) => json!({"kind": "ruling", "finding": f.id, "ruling": "accepted", "why": "seen"}),
            None => json!({"kind": "note", "text": "all quiet"}),
        }
    }

    /// Records something and takes down what the device answers then.
    fn record(&mut self, n: usize) {
        self.count += 1;
        let mut line = self.fact(n);
        line["note"] = self.count.into();
        let fact = Fact::from_map(&self.node(n).device(), line.as_object().unwrap().clone()).unwrap();
        let place = self.node(n).record(vec![fact]).unwrap()[0].place;
        let query = question(&mut self.dice);
        let node = self.node(n);
        let answer = told(&node.history(&query, None).unwrap());
        let findings = text(&node.findings().unwrap());
        self.moments.push(KnownMoment {
            device: n,
            log: place.log,
            seq: place.seq,
            history: (query, answer),
            findings,
        });
    }

    fn carry(&mut self, from: usize, to: usize) {
        let file = self.dir.path().join("stick.bundle");
        let theirs = self.node(to).book().vector();
        self.node(from).write_bundle(&file, &theirs, &Silent).unwrap();
        self.node(to).read_bundle(&file, &Silent).unwrap();
    }

    /// Two devices meet over a network, so that one of them measures the other's clock.
    fn meet(&mut self, a: usize, b: usize) {
        self.carry(a, b);
        self.carry(b, a);
        let (device, peer) = (self.node(a).device(), self.node(b).device());
        let reading = ClockReading {
            device,
            peer,
            offset_us: (WRONG_MIN[b] - WRONG_MIN[a]) * 60_000_000,
            delay_us: 40_000,
            at_us: NOON_US + (self.minutes.load(Ordering::Relaxed) + WRONG_MIN[a]) * 60_000_000,
        };
        self.node(a).note_clock(&reading).unwrap();
    }

    fn step(&mut self, devices: &[usize]) {
        self.minutes.fetch_add(1, Ordering::Relaxed);
        let (a, b) = (
            devices[self.dice.roll(devices.len())],
            devices[self.dice.roll(devices.len())],
        );
        match self.dice.roll(9) {
            0 if a != b => self.meet(a, b),
            1 if a != b => self.carry(a, b),
            _ => self.record(a),
        }
    }

    /// The home is lost and comes back from a copy that was made some time ago.
    fn restore(&mut self, n: usize, copy: &Path) {
        self.nodes[n].take().unwrap().close().unwrap();
        self.nodes[n] = Some(Node::open_with(copy, &Silent, environment(n, &self.minutes)).unwrap());
    }

    fn copy(&mut self, n: usize) -> PathBuf {
        let (path, copy) = (self.path(n), self.dir.path().join("copy"));
        self.nodes[n].take().unwrap().close().unwrap();
        copy_folder(&path, &copy);
        self.nodes[n] = Some(Node::open_with(&path, &Silent, environment(n, &self.minutes)).unwrap());
        copy
    }
}

fn copy_folder(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let (entry, target) = entry.map(|e| (e.path(), to.join(e.file_name()))).unwrap();
        if entry.is_dir() {
            copy_folder(&entry, &target);
        } else {
            std::fs::copy(entry, target).unwrap();
        }
    }
}

/// The day: apart before they join, together, a new standard, a retirement, a restored home, and everything to the depot.
fn play(moments: usize) -> Day {
    let mut day = Day::new(20_260_302);
    (0..8).for_each(|i| day.record(i % 4 + 1));
    (1..NAMES.len()).for_each(|n| day.join(n));
    (0..moments / 3).for_each(|_| day.step(&[0, 1, 2, 3, RUTH]));
    let standard = [
        ("Gladhand example 3", "Larkspur 2"),
        ("\"120 s\"", "\"10 min\""),
        ("\"24 h\"", "\"6 h\""),
    ];
    let standard = standard
        .iter()
        .fold(BUILT_IN.to_owned(), |text, (old, new)| text.replace(old, new));
    day.node(0).publish_standard(&standard).unwrap();
    let copy = day.copy(2);
    (0..moments / 3).for_each(|_| day.step(&[0, 1, 2, 3, RUTH]));
    day.carry(RUTH, 0);
    let ruth = day.node(RUTH).device();
    day.node(0).retire(&ruth, Some(9), "stolen").unwrap();
    day.restore(2, &copy);
    let enough = |day: &Day, n: usize| day.moments.iter().filter(|m| m.device == n).count() >= moments / 5;
    while !(0..4).all(|n| enough(&day, n)) {
        day.step(&[0, 1, 2, 3]);
    }
    (1..4).for_each(|n| day.carry(n, 0));
    day
}

#[test]
fn the_depot_tells_what_every_device_really_answered() {
    let moments = std::env::var("MOMENTS")
        .ok()
        .and_then(|m| m.parse().ok())
        .unwrap_or(150);
    let mut day = play(moments);
    let moments = std::mem::take(&mut day.moments);
    let depot = day.node(0);
    let mut seen = [0usize; 5];
    let mut standards = BTreeSet::new();
    for m in &moments {
        let what = format!("{} after its entry {}", NAMES[m.device], m.seq);
        let past = depot.past(&m.log, m.seq).unwrap();
        if depot.book().vector().get(&m.log) < m.seq {
            // Behind a retirement or lost with a home that was restored: never came here.
            assert!(past.missing() > 0, "{what}");
            continue;
        }
        assert_eq!(past.missing(), 0, "{what}");
        seen[m.device] += 1;
        standards.insert(past.standard().version().to_owned());
        let findings = text(&depot.findings_at(&past).unwrap());
        assert_eq!(findings, m.findings, "findings of {what}");
        let (query, answer) = &m.history;
        let history = depot.history(query, Some(&past)).unwrap();
        assert_eq!(&told(&history), answer, "history of {:?} at {what}", query.subjects);
    }
    println!("moments compared, device by device: {seen:?}");
    assert!(
        seen[..4].iter().all(|n| *n >= moments.len() / 8),
        "{seen:?} of {}",
        moments.len()
    );
    let measured = moments.iter().filter(|m| m.history.1.contains("\"measured\"")).count();
    assert!(measured > moments.len() / 10, "hardly a clock was measured: {measured}");
    assert_eq!(standards.len(), 2, "one standard was in force all day: {standards:?}");
}
