//! Each file call of the journal fails, one after the other, while a node records, exchanges, reads a bundle, makes its index
//! anew, starts, or takes in a file of its inbox: once, for ever, or because the disk is full until there is room again.
//!
//! One rule in all of them: what has a receipt stays; what failed is done again and then counts once; afterwards the node is
//! as if nothing had happened. The journal alone, call by call and crash by crash, is in `crates/store/src/tests/kill.rs`.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Mutex};

use gladhand_facts::{Fact, FactId, VersionVector};
use gladhand_node::config::Role;
use gladhand_node::{Node, Silent};
use gladhand_store::testing::{Crash, Faults};
use gladhand_tests::SeededRng;
use gladhand_tests::facts::{fitting, notes};
use gladhand_tests::sim::device::{Around, Device};
use gladhand_tests::sim::folder;
use gladhand_tests::sim::judges::{all_facts, wrong_since_start};
use gladhand_tests::sim::network::exchange;

/// A depot that lacks what a laptop has recorded; everything closed, so that it can be copied.
struct Base {
    dir: tempfile::TempDir,
    depot: Device,
    laptop: Device,
    bundle: PathBuf,
    copies: u32,
}

/// A copy of both for one case. The one whose disk fails first.
struct Case {
    target: Device,
    other: Device,
    bundle: PathBuf,
    receipts: Vec<FactId>,
}

type Op = fn(&mut Case) -> Result<(), String>;

impl Base {
    fn make() -> Self {
        let dir = folder();
        let around = Around {
            true_us: Arc::new(AtomicI64::new(1_772_438_400_000_000)),
            rng: Arc::new(Mutex::new(SeededRng::quiet(6))),
        };
        let mut depot = Device::create(dir.path().join("depot"), "harrow-street", Role::Depot, &around);
        let mut laptop = Device::create(dir.path().join("mara"), "mara", Role::Laptop, &around);
        let invite = depot.open().unwrap().invite("mara", 86_400).unwrap().to_line();
        laptop.open().unwrap().join(&invite).unwrap();
        record(&mut depot, &notes(4, "from the depot", true)).unwrap();
        record(&mut laptop, &fitting("0302-N1", "LF 5301", "LC-LT91Z9J", "LT500411541")).unwrap();
        record(&mut laptop, &notes(3, "by the gate", true)).unwrap();
        around.true_us.fetch_add(60_000_000, Ordering::Relaxed);
        let bundle = dir.path().join("all.bundle");
        let node = laptop.open().unwrap();
        node.write_bundle(&bundle, &VersionVector::new(), &Silent).unwrap();
        depot.close();
        laptop.close();
        Self {
            dir,
            depot,
            laptop,
            bundle,
            copies: 0,
        }
    }

    fn case(&mut self, of_depot: bool) -> Case {
        self.copies += 1;
        let copy = |device: &Device, number: u32| {
            let dir = self.dir.path().join(format!("{}-{number}", device.name));
            let copy = device.copied(dir, &device.name);
            copy.believe();
            copy
        };
        let (target, other) = if of_depot {
            (&self.depot, &self.laptop)
        } else {
            (&self.laptop, &self.depot)
        };
        let mut case = Case {
            target: copy(target, self.copies),
            other: copy(other, self.copies),
            bundle: self.bundle.clone(),
            receipts: Vec::new(),
        };
        case.target.open().unwrap();
        case.other.open().unwrap();
        case
    }
}

impl Drop for Case {
    fn drop(&mut self) {
        for device in [&mut self.target, &mut self.other] {
            device.close();
            std::fs::remove_dir_all(&device.dir).ok();
        }
    }
}

fn record(device: &mut Device, lines: &[String]) -> Result<Vec<FactId>, String> {
    let key = device.key;
    let facts = lines.iter().map(|line| Fact::from_line(&key, line).unwrap()).collect();
    let node = device.open().map_err(|e| e.to_string())?;
    let receipts = node.record(facts).map_err(|e| e.to_string())?;
    Ok(receipts.iter().map(|r| r.fact.id()).collect())
}

fn records(case: &mut Case) -> Result<(), String> {
    let mut lines = fitting("0302-N2", "LF 5302", "LC-P9D0K5X", "LT356259101");
    lines.extend(notes(2, "in the rain", true));
    let receipts = record(&mut case.target, &lines)?;
    case.receipts.extend(receipts);
    Ok(())
}

fn reads_bundle(case: &mut Case) -> Result<(), String> {
    let node = case.target.open().map_err(|e| e.to_string())?;
    let read = node.read_bundle(&case.bundle, &Silent).map_err(|e| e.to_string())?;
    assert!(read.complete && read.damaged.is_empty(), "{read:?}");
    Ok(())
}

fn makes_its_index_anew(case: &mut Case) -> Result<(), String> {
    let node = case.target.open().map_err(|e| e.to_string())?;
    node.rebuild(&Silent).map_err(|e| e.to_string())
}

fn starts(case: &mut Case) -> Result<(), String> {
    // Only closing is without calls of its own: the index lies elsewhere.
    case.target.close();
    case.target.open().map(drop).map_err(|e| e.to_string())
}

fn judges(case: &mut Case) -> Result<(), String> {
    let node = case.target.open().map_err(|e| e.to_string())?;
    node.findings().map(drop).map_err(|e| e.to_string())
}

/// A whole session, both ways.
fn exchanges(case: &mut Case) -> Result<(), String> {
    let target = case.target.open().map_err(|e| e.to_string())?;
    let other = case.other.open().map_err(|e| e.to_string())?;
    let refused = exchange(target, other).map_err(|e| e.to_string())?;
    assert_eq!(refused, Vec::<String>::new());
    assert_eq!(target.book().digest(), other.book().digest());
    Ok(())
}

/// How often each fact is held.
fn counted(node: &Node) -> BTreeMap<FactId, u32> {
    let mut found = BTreeMap::new();
    for fact in all_facts(node).into_values().flatten() {
        *found.entry(fact).or_default() += 1;
    }
    found
}

/// What a node is to be like in the end.
#[derive(Debug, PartialEq)]
struct Like {
    facts: BTreeMap<FactId, u32>,
    findings: String,
}

fn like(device: &mut Device) -> Like {
    let node = device.open().unwrap();
    assert_eq!(wrong_since_start(node), Vec::<String>::new());
    Like {
        facts: counted(node),
        findings: serde_json::to_string(&node.findings().unwrap()).unwrap(),
    }
}

/// How it goes on after a call has failed.
#[derive(Clone, Copy, Debug)]
enum Then {
    /// The disk is well again, and the node never stopped.
    GoOn,
    /// The process ends, the disk is well, and it starts again.
    Restart,
}

/// One failure, and everything after it. Says whether anything failed.
fn strike(base: &mut Base, of_depot: bool, op: Op, faults: Faults, then: Then, wanted: &Like) -> bool {
    let mut case = base.case(of_depot);
    case.target.disk.set(faults);
    let outcome = op(&mut case);
    let failed = case.target.disk.calls() > 0 && outcome.is_err();
    if let Then::Restart = then {
        case.target.crash(Crash::Process);
    }
    case.target.disk.set(Faults::default());
    let held = counted(case.target.open().unwrap());
    let lost = case.receipts.iter().any(|fact| !held.contains_key(fact));
    assert!(!lost, "{faults:?} {then:?}: a receipt for what is not there");
    op(&mut case).unwrap_or_else(|e| panic!("{faults:?} {then:?}: it fails on a healthy disk: {e}"));
    assert_eq!(like(&mut case.target), *wanted, "{faults:?} {then:?}");
    case.target.close();
    assert_eq!(like(&mut case.target), *wanted, "{faults:?} {then:?}, after a restart");
    failed
}

/// All calls of an operation, one after the other.
fn every_call(name: &str, of_depot: bool, op: Op) {
    let mut base = Base::make();
    let reads = Faults {
        count_reads: true,
        ..Faults::default()
    };
    let mut case = base.case(of_depot);
    case.target.disk.set(reads);
    op(&mut case).unwrap();
    let calls = case.target.disk.calls();
    case.target.disk.set(Faults::default());
    let wanted = like(&mut case.target);
    drop(case);
    let (mut struck, mut failed) = (0, 0);
    for call in 1..=calls {
        let (once, for_ever) = (Faults::once(call), Faults::from(call));
        for (faults, then) in [(once, Then::GoOn), (for_ever, Then::Restart)] {
            let faults = Faults {
                count_reads: true,
                ..faults
            };
            struck += 1;
            failed += u32::from(strike(&mut base, of_depot, op, faults, then, &wanted));
        }
    }
    let mut full = 0;
    for room in (0..).step_by(211) {
        let faults = Faults {
            room: Some(room),
            ..Faults::default()
        };
        let then = if room % 2 == 0 { Then::GoOn } else { Then::Restart };
        if !strike(&mut base, of_depot, op, faults, then, &wanted) {
            break;
        }
        full += 1;
    }
    println!(
        "{name}: {calls} calls, {struck} times one failed, {failed} times that was told; {full} times the disk was full"
    );
    assert!(calls > 0 && failed > 0, "{name}: nothing ever failed");
}

#[test]
fn recording() {
    every_call("recording", false, records);
}

#[test]
fn exchanging() {
    every_call("exchanging", true, exchanges);
}

#[test]
fn reading_a_bundle() {
    every_call("reading a bundle", true, reads_bundle);
}

#[test]
fn making_the_index_anew() {
    every_call("making the index anew", false, makes_its_index_anew);
}

#[test]
fn starting() {
    every_call("starting", false, starts);
}

#[test]
fn judging() {
    every_call("judging", false, judges);
}

/// The inbox over a node whose disk fails at the n-th call: the file stays until it can be taken in, and counts once.
#[test]
fn taking_in_a_file_of_the_inbox() {
    const CALLS: u64 = 9;
    let mut base = Base::make();
    let cases: Vec<Case> = (1..=CALLS).map(|_| base.case(false)).collect();
    // Side by side, for an inbox lets a file settle before it reads it.
    let waited: Vec<bool> = std::thread::scope(|scope| {
        let started = (1..)
            .zip(cases)
            .map(|(call, case)| scope.spawn(move || inbox_case(case, call)));
        let started: Vec<_> = started.collect();
        started.into_iter().map(|thread| thread.join().unwrap()).collect()
    });
    println!("the inbox: a file had to wait when these calls failed: {waited:?}");
    assert!(waited[0], "nothing ever failed");
}

/// Says whether the file had to wait.
fn inbox_case(mut case: Case, call: u64) -> bool {
    let disk = case.target.disk.clone();
    disk.set(Faults {
        count_reads: true,
        ..Faults::between(call, call + 2)
    });
    let (dir, node) = (case.target.dir.clone(), case.target.node.take().unwrap());
    let (handle, thread) = gladhand_node::NodeHandle::start(node);
    drop_file(&dir, "rain.jsonl", &notes(5, "in the rain", true));
    let done = dir.join("inbox/done/rain.jsonl");
    with_inbox(&dir, &handle, &|| done.exists() || disk.calls() > call);
    let waited = !done.exists();
    disk.set(Faults::default());
    // Without waiting for the next try: whoever starts again looks at once.
    with_inbox(&dir, &handle, &|| done.exists());
    drop(handle);
    case.target.node = thread.join().unwrap();
    let node = case.target.node.as_mut().unwrap();
    node.flush().unwrap();
    assert_eq!(wrong_since_start(node), Vec::<String>::new());
    let held = counted(node);
    assert!(held.values().all(|n| *n == 1), "call {call}: {held:?}");
    assert_eq!(held.len(), 12 + 5, "call {call}");
    waited
}

fn drop_file(home: &Path, name: &str, lines: &[String]) {
    let coming = home.join(format!("{name}.coming"));
    std::fs::write(&coming, lines.join("\n") + "\n").unwrap();
    std::fs::rename(coming, home.join("inbox").join(name)).unwrap();
}

/// Runs the inbox until `is_so`.
fn with_inbox(home: &Path, node: &gladhand_node::NodeHandle, is_so: &dyn Fn() -> bool) {
    let inbox = gladhand::inbox::start(home, node.clone()).unwrap();
    let deadline = std::time::Instant::now() + std::time::Duration::from_secs(120);
    while !is_so() {
        assert!(std::time::Instant::now() < deadline, "the inbox does not get on");
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
    runtime.block_on(inbox.stop());
}
