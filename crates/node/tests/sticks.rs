//! Nodes that meet by stick only, with clocks that are off and are set: what is kept is what judging anew gives, equal digests give
//! equal findings, and reading a bundle writes nothing until the device writes anyway.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use gladhand_facts::Fact;
use gladhand_node::config::{Config, Role};
use gladhand_node::environment::Environment;
use gladhand_node::{Node, Silent};
use gladhand_reconcile::Subject;

/// 2026-03-02T08:00:00Z.
const MORNING_US: i64 = 1_772_438_400_000_000;
const MINUTE_US: i64 = 60_000_000;
const NAMES: [&str; 3] = ["harrow-street", "lap-mara", "lap-tomas"];

/// The minutes that have passed, and how many minutes each clock is off.
struct Time {
    minutes: AtomicI64,
    off: [AtomicI64; 3],
}

struct Yard {
    dir: tempfile::TempDir,
    time: Arc<Time>,
    nodes: Vec<Node>,
    count: u32,
}

impl Yard {
    fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let time = Arc::new(Time {
            minutes: AtomicI64::new(0),
            off: [0, -180, 7].map(AtomicI64::new),
        });
        let mut nodes: Vec<Node> = (0..3).map(|n| create(dir.path(), n, &time)).collect();
        for n in 1..3 {
            let invite = nodes[0].invite("", 10 * 365 * 86_400).unwrap().to_line();
            nodes[n].join(&invite).unwrap();
        }
        Self {
            dir,
            time,
            nodes,
            count: 0,
        }
    }

    fn wait(&self, minutes: i64) {
        self.time.minutes.fetch_add(minutes, Ordering::Relaxed);
    }

    fn set(&self, n: usize, off: i64) {
        self.time.off[n].store(off, Ordering::Relaxed);
    }

    fn record(&mut self, n: usize, line: &str) {
        self.count += 1;
        let line = format!(r#"{{{line},"note":"{}"}}"#, self.count);
        let fact = Fact::from_line(&self.nodes[n].device(), &line).unwrap();
        self.nodes[n].record(vec![fact]).unwrap();
    }

    fn carry(&mut self, from: usize, to: usize, minutes: i64) {
        let file = self.dir.path().join("stick");
        self.nodes[from].record_bundles_read().unwrap();
        let theirs = self.nodes[to].book().vector();
        self.nodes[from].write_bundle(&file, &theirs, &Silent).unwrap();
        self.wait(minutes);
        self.nodes[to].read_bundle(&file, &Silent).unwrap();
    }

    fn assert_kept_is_judged(&mut self, when: &str) {
        for node in &mut self.nodes {
            let kept = serde_json::to_string_pretty(&node.findings().unwrap()).unwrap();
            let judged = serde_json::to_string_pretty(&node.view().unwrap().findings()).unwrap();
            assert_eq!(kept, judged, "{} {when}", node.config().name);
        }
        for (i, j) in [(0, 1), (0, 2), (1, 2)] {
            if self.nodes[i].book().digest() == self.nodes[j].book().digest() {
                let of = |n: usize, yard: &mut Self| serde_json::to_string(&yard.nodes[n].findings().unwrap()).unwrap();
                assert_eq!(of(i, self), of(j, self), "{when}");
            }
        }
    }

    /// By how many minutes the time of a device's last fact on a job is uncertain, as the depot knows it.
    fn width_min(&self, n: usize, job: &str) -> i64 {
        let (view, clocks) = (self.nodes[0].view().unwrap(), self.nodes[0].clocks());
        let facts = view.facts();
        let mut about = facts.about(&Subject::job(job));
        about.retain(|w| w.place.log.device == self.nodes[n].device());
        let interval = clocks.interval_of(about.last().unwrap()).unwrap();
        interval.width_us() / MINUTE_US
    }
}

fn create(dir: &Path, n: usize, time: &Arc<Time>) -> Node {
    let time = Arc::clone(time);
    let environment = Environment {
        now_us: Arc::new(move || {
            let minutes = time.minutes.load(Ordering::Relaxed) + time.off[n].load(Ordering::Relaxed);
            MORNING_US + minutes * MINUTE_US
        }),
        machine_id: "the machine of this test".into(),
        ..Environment::machine()
    };
    let role = if n == 0 { Role::Depot } else { Role::Laptop };
    let config = Config::new(NAMES[n], role, "", "");
    Node::create_with(&dir.join(NAMES[n]), &config, environment).unwrap()
}

#[test]
fn two_sticks_measure_a_laptop() {
    let mut yard = Yard::new();
    // The first stick enrols it.
    yard.carry(1, 0, 1);
    yard.carry(0, 1, 4);
    yard.record(1, r#""kind":"note","text":"stick read""#);
    yard.wait(60);
    yard.record(1, r#""kind":"link","job":"J1","camera":"C1","tracker":"T1""#);
    yard.wait(240);
    yard.carry(1, 0, 6);
    assert!(
        yard.width_min(1, "J1") > 60,
        "the depot has not written since it read the stick"
    );
    yard.nodes[0].record_bundles_read().unwrap();
    assert!(yard.width_min(1, "J1") <= 10, "{}", yard.width_min(1, "J1"));
    yard.assert_kept_is_judged("in the evening");
}

#[test]
fn reading_a_bundle_writes_nothing_and_the_next_entry_tells_of_it_once() {
    let mut yard = Yard::new();
    yard.record(1, r#""kind":"note","text":"one""#);
    yard.carry(1, 0, 5);
    yard.carry(0, 1, 5);
    assert_eq!(yard.nodes[0].book().digest(), yard.nodes[1].book().digest());
    let carried = |node: &Node| {
        node.book()
            .roster()
            .carried()
            .filter(|(log, ..)| log.device == node.device())
            .count()
    };
    assert_eq!((carried(&yard.nodes[0]), carried(&yard.nodes[1])), (1, 0));
    yard.record(1, r#""kind":"note","text":"two""#);
    yard.record(1, r#""kind":"note","text":"three""#);
    assert_eq!(carried(&yard.nodes[1]), 1);
    // The same stick again says nothing new.
    let file = yard.dir.path().join("stick");
    yard.nodes[1].read_bundle(&file, &Silent).unwrap();
    yard.record(1, r#""kind":"note","text":"four""#);
    assert_eq!(carried(&yard.nodes[1]), 1);
    // What waits outlives the process.
    yard.carry(0, 2, 5);
    let path = yard.nodes[2].home().layout().path().to_path_buf();
    yard.nodes.pop().unwrap().close().unwrap();
    yard.nodes.push(Node::open(&path, &Silent).unwrap());
    assert_eq!(carried(&yard.nodes[2]), 0);
    yard.record(2, r#""kind":"note","text":"opened again""#);
    assert_eq!(carried(&yard.nodes[2]), 1);
}

/// Random days.
#[test]
fn kept_findings_are_judged_findings_whatever_the_sticks_bring() {
    for seed in 1..=6u64 {
        let mut yard = Yard::new();
        let mut dice = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
        let mut roll = |below: u64| {
            dice ^= dice >> 12;
            dice ^= dice << 25;
            dice ^= dice >> 27;
            (dice.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 33) % below
        };
        for step in 0..60 {
            yard.wait(1 + roll(90) as i64);
            let (n, job) = (roll(3) as usize, ["J1", "J2"][roll(2) as usize]);
            let tracker = ["T1", "T2"][roll(2) as usize];
            match roll(10) {
                0 => yard.set(n.max(1), roll(600) as i64 - 300),
                1..=3 => yard.carry(n, (n + 1 + roll(2) as usize) % 3, 1 + roll(20) as i64),
                4 => yard.record(n, &format!(r#""kind":"sign-off","job":"{job}""#)),
                5 => yard.record(
                    n,
                    &format!(r#""kind":"link","job":"{job}","camera":"C1","tracker":"{tracker}""#),
                ),
                6 => yard.record(
                    n,
                    r#""kind":"clock","reference":"2026-03-02T12:00:00Z","uncertainty":"10 min""#,
                ),
                _ => yard.record(n, &format!(r#""kind":"settings","tracker":"{tracker}","state":"live""#)),
            }
            if step % 4 == 3 {
                yard.assert_kept_is_judged(&format!("seed {seed}, step {step}"));
            }
        }
        for (from, to) in [(1, 0), (2, 0), (0, 1), (0, 2), (1, 0), (2, 0), (0, 1), (0, 2)] {
            yard.carry(from, to, 1);
        }
        yard.assert_kept_is_judged(&format!("seed {seed}, at the end"));
    }
}
