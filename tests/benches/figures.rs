//! The figures that the program is built for, measured: `cargo bench -p gladhand-tests`. Prints a table and asserts nothing: a
//! noisy machine is no broken program. `ENTRIES=50000 cargo bench …` runs it smaller.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::print_stdout,
    missing_docs
)]

use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use gladhand_facts::{DeviceKey, Fact, Moment, VersionVector};
use gladhand_logbook::exchange::{Effect, Session};
use gladhand_node::config::{Config, Role};
use gladhand_node::{HistoryQuery, IndexedFacts, Node, Silent};
use gladhand_reconcile::{Clocks, Subject, World, judge_all, judge_subject};

/// Jobs that an installer has open at once.
const OPEN_AT_ONCE: usize = 5;
const FACTS_PER_JOB: usize = 40;

struct Measurement {
    dir: tempfile::TempDir,
    rows: Vec<[String; 3]>,
}

impl Measurement {
    fn row(&mut self, what: &str, reach: &str, got: String) {
        println!("{what:<58} | reach: {reach:<28} | {got}");
        self.rows.push([what.into(), reach.into(), got]);
    }

    fn home(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }
}

fn main() {
    let entries: usize = std::env::var("ENTRIES")
        .ok()
        .and_then(|t| t.parse().ok())
        .unwrap_or(400_000);
    let mut measured = Measurement {
        dir: tempfile::tempdir().unwrap(),
        rows: Vec::new(),
    };
    receipts(&mut measured);
    inbox(&mut measured);
    let jobs = entries / FACTS_PER_JOB;
    big_store(&mut measured, jobs);
    exchange(&mut measured, jobs);
    reconcile(&mut measured, jobs.min(10_000));
    println!("\n| what | reach | measured |\n|---|---|---|");
    for [what, reach, got] in &measured.rows {
        println!("| {what} | {reach} | {got} |");
    }
}

fn fleet(measured: &Measurement, depot: &str, laptops: &[&str]) -> Vec<Node> {
    let depot_node = Node::create(&measured.home(depot), &Config::new(depot, Role::Depot, "bram", "")).unwrap();
    let mut nodes = vec![];
    for name in laptops {
        let invite = depot_node.invite("", 3600).unwrap().to_line();
        let mut node = Node::create(&measured.home(name), &Config::new(name, Role::Laptop, "mara", "")).unwrap();
        node.join(&invite).unwrap();
        nodes.push(node);
    }
    nodes.insert(0, depot_node);
    nodes
}

/// The facts of one job, as an installer records them: `n` tells the job.
fn job_facts(n: usize) -> Vec<String> {
    let at = |i: usize| {
        format!(
            "2026-03-{:02}T{:02}:{:02}:00-05:00",
            1 + n / 700 % 28,
            6 + (n / 40) % 14,
            i
        )
    };
    let (job, camera, tracker) = (format!("B{n:06}"), format!("LC-{n:06}A"), format!("LT{n:08}"));
    let mut lines = vec![
        format!(
            r#"{{"kind":"job","job":"{job}","trailer":"LF {n}","fleet":"Larkspur Freight","yard":"Tolland","tracker":"{tracker}","wall":"plate","load":"empty","at":"{}"}}"#,
            at(0)
        ),
        format!(
            r#"{{"kind":"scan","job":"{job}","what":"tracker","code":"{tracker}","at":"{}"}}"#,
            at(1)
        ),
        format!(
            r#"{{"kind":"scan","job":"{job}","what":"camera","code":"{camera}","at":"{}"}}"#,
            at(2)
        ),
    ];
    for i in lines.len()..FACTS_PER_JOB - 7 {
        lines.push(format!(
            r#"{{"kind":"check","job":"{job}","check":"placement-top-{i}","value":"{} in","by":"mara","at":"{}"}}"#,
            i % 7,
            at(i)
        ));
    }
    let tail = FACTS_PER_JOB - 7;
    for (i, line) in [
        format!(r#""kind":"link","camera":"{camera}","tracker":"{tracker}""#),
        format!(r#""kind":"settings","tracker":"{tracker}","camera":"{camera}","state":"asked""#),
        format!(r#""kind":"settings","tracker":"{tracker}","camera":"{camera}","state":"live""#),
        r#""kind":"proof","state":"asked""#.to_owned(),
        r#""kind":"proof","state":"taken""#.to_owned(),
        r#""kind":"proof","state":"judged","ok":true,"answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}"#.to_owned(),
        r#""kind":"sign-off""#.to_owned(),
    ]
    .into_iter()
    .enumerate()
    {
        lines.push(format!(r#"{{"job":"{job}",{line},"at":"{}"}}"#, at(tail + i)));
    }
    lines
}

/// Facts of `jobs` jobs, several open at once, so that hardly two neighbours share a job.
fn shift(device: &DeviceKey, from: usize, jobs: usize) -> impl Iterator<Item = Vec<Fact>> + '_ {
    (from..from + jobs).step_by(OPEN_AT_ONCE).map(move |first| {
        let open: Vec<Vec<String>> = (first..(first + OPEN_AT_ONCE).min(from + jobs))
            .map(job_facts)
            .collect();
        let lines = (0..FACTS_PER_JOB).flat_map(|i| open.iter().map(move |job| &job[i]));
        lines.map(|line| Fact::from_line(device, line).unwrap()).collect()
    })
}

fn record_shift(node: &mut Node, from: usize, jobs: usize) {
    let device = node.device();
    let mut batch = Vec::new();
    for facts in shift(&device, from, jobs) {
        batch.extend(facts);
        if batch.len() >= 2_000 {
            node.record(std::mem::take(&mut batch)).unwrap();
        }
    }
    node.record(batch).unwrap();
}

fn median(mut times: Vec<Duration>) -> Duration {
    times.sort();
    times[times.len() / 2]
}

fn receipts(measured: &mut Measurement) {
    let mut node = fleet(measured, "d0", &["a0"]).pop().unwrap();
    let mut file = std::fs::File::create(measured.home("raw")).unwrap();
    let sync = median(
        (0..200)
            .map(|_| {
                let t = Instant::now();
                file.write_all(&[7; 300]).unwrap();
                file.sync_data().unwrap();
                t.elapsed()
            })
            .collect(),
    );
    let one = |i: usize| {
        Fact::from_line(
            &DeviceKey([0; 32]),
            &format!(r#"{{"kind":"check","job":"J{}","check":"c","value":{i}}}"#, i % 5),
        )
        .unwrap()
    };
    let receipt = median(
        (0..400)
            .map(|i| {
                let fact = one(i);
                let t = Instant::now();
                node.record(vec![fact]).unwrap();
                t.elapsed()
            })
            .collect(),
    );
    measured.row(
        "durable receipt for one fact (in process)",
        "one fsync + 1 ms",
        format!("{receipt:.0?}; one fsync of 300 bytes alone: {sync:.0?}"),
    );
}

fn inbox(measured: &mut Measurement) {
    let mut node = fleet(measured, "d1", &["a1"]).pop().unwrap();
    let t = Instant::now();
    record_shift(&mut node, 0, 500);
    let recorded = t.elapsed();
    let found = node.findings().unwrap().len();
    let reconciled = t.elapsed();
    let rate = |d: Duration| 20_000.0 / d.as_secs_f64();
    measured.row(
        "20,000 facts of 500 jobs, durable and indexed",
        "20,000 a second",
        format!(
            "{:.0} a second; with findings ({found}) {:.0}",
            rate(recorded),
            rate(reconciled)
        ),
    );
}

fn rss_mib() -> f64 {
    let text = std::fs::read_to_string("/proc/self/statm").unwrap_or_default();
    let pages: f64 = text.split(' ').nth(1).and_then(|t| t.parse().ok()).unwrap_or(0.0);
    pages * 4096.0 / 1048576.0
}

fn folder_mib(dir: &Path) -> f64 {
    let mut bytes = 0;
    for entry in std::fs::read_dir(dir).unwrap().flatten() {
        bytes += if entry.path().is_dir() {
            (folder_mib(&entry.path()) * 1048576.0) as u64
        } else {
            entry.metadata().unwrap().len()
        };
    }
    bytes as f64 / 1048576.0
}

fn big_store(measured: &mut Measurement, jobs: usize) {
    let mut nodes = fleet(measured, "depot", &["laptop", "fresh"]);
    drop(nodes.pop());
    let mut laptop = nodes.pop().unwrap();
    drop(nodes);
    let t = Instant::now();
    record_shift(&mut laptop, 0, jobs);
    let entries = laptop.book().vector().entries();
    measured.row(
        &format!("recording {entries} entries, everything included"),
        "-",
        format!(
            "{:.0} facts a second",
            (jobs * FACTS_PER_JOB) as f64 / t.elapsed().as_secs_f64()
        ),
    );
    laptop.close().unwrap();
    let before = rss_mib();
    let t = Instant::now();
    let laptop = Node::open(&measured.home("laptop"), &Silent).unwrap();
    let opened = t.elapsed();
    measured.row(
        &format!("restart with {entries} entries"),
        "< 1 s",
        format!("{:.2} s", opened.as_secs_f64()),
    );
    measured.row(
        "resident memory that this adds",
        "< 60 MB for the daemon",
        format!("{:.0} MiB (process {:.0} MiB)", rss_mib() - before, rss_mib()),
    );
    measured.row(
        "on disk: journal, index",
        "-",
        format!(
            "{:.0} MiB, {:.0} MiB",
            folder_mib(&measured.home("laptop/log")),
            folder_mib(&measured.home("laptop/index"))
        ),
    );
    histories(measured, &laptop, jobs, entries);
}

fn of_camera(n: usize, findings: bool) -> HistoryQuery {
    HistoryQuery {
        subjects: vec![Subject::Camera(format!("LC-{n:06}A"))],
        findings,
        ..HistoryQuery::default()
    }
}

/// One camera's history now, as of a time, as a device knew it, and with the findings that it would have shown.
fn histories(measured: &mut Measurement, laptop: &Node, jobs: usize, entries: u64) {
    let until_us = Moment::parse("2026-04-01T00:00:00Z").unwrap().unix_us();
    let log = laptop.book().own_log().unwrap();
    let then = entries * 9 / 10;
    let mut measure = |what: &str, reach: &str, ask: &dyn Fn(usize)| {
        let times = (0..50).map(|i| {
            let t = Instant::now();
            ask(i * jobs / 60);
            t.elapsed()
        });
        let took = median(times.collect());
        measured.row(&format!("{what} among {entries} entries"), reach, format!("{took:.0?}"));
    };
    measure("history of one camera", "< 5 ms", &|n| {
        assert!(!laptop.history(&of_camera(n, false), None).unwrap().lines.is_empty());
    });
    measure("the same as of a time", "< 5 ms", &|n| {
        let until_us = Some(until_us);
        let query = HistoryQuery {
            until_us,
            ..of_camera(n, false)
        };
        assert!(!laptop.history(&query, None).unwrap().lines.is_empty());
    });
    measure("the same as a device knew it", "< 5 ms", &|n| {
        let past = laptop.past(&log, then).unwrap();
        assert!(
            !laptop
                .history(&of_camera(n, false), Some(&past))
                .unwrap()
                .lines
                .is_empty()
        );
    });
    measure("the same with the findings that it would have shown", "-", &|n| {
        let past = laptop.past(&log, then).unwrap();
        assert!(
            !laptop
                .history(&of_camera(n, true), Some(&past))
                .unwrap()
                .lines
                .is_empty()
        );
    });
}

fn exchange(measured: &mut Measurement, jobs: usize) {
    let laptop = Node::open(&measured.home("laptop"), &Silent).unwrap();
    let entries = laptop.book().vector().entries();
    // First fill: a bundle is the same frames as the network carries; both sides end durable.
    let file = measured.home("fill.bundle");
    let t = Instant::now();
    let written = laptop.write_bundle(&file, &VersionVector::new(), &Silent).unwrap();
    let wrote = t.elapsed();
    let mut depot = Node::open(&measured.home("depot"), &Silent).unwrap();
    let t = Instant::now();
    let read = depot.read_bundle(&file, &Silent).unwrap();
    let took = t.elapsed();
    assert_eq!(read.entries, written.entries);
    let rate = |d: Duration| written.entries as f64 / d.as_secs_f64();
    measured.row(
        &format!("first fill of {entries} entries: written / read durably and indexed"),
        "40,000 a second",
        format!(
            "{:.0} / {:.0} a second, {} bytes an entry",
            rate(wrote),
            rate(took),
            written.bytes / written.entries
        ),
    );
    nothing_new(measured, &laptop, &depot);
    drop(laptop);
    let mut laptop = Node::open(&measured.home("laptop"), &Silent).unwrap();
    thousand_new(measured, &mut laptop, &mut depot, jobs);
}

fn nothing_new(measured: &mut Measurement, a: &Node, b: &Node) {
    // The depot wrote its enrolment after reading, so level the two first by comparing a node with itself re-opened.
    let _ = b;
    let mut bytes = 0;
    let times = (0..50).map(|_| {
        let t = Instant::now();
        let (mut sa, ea) = Session::start(a.book(), a.device(), 0);
        let (mut sb, eb) = Session::start(a.book(), a.device(), 0);
        let messages = |effects: Vec<Effect>| {
            effects
                .into_iter()
                .filter_map(|e| if let Effect::Send(m) = e { Some(m) } else { None })
                .collect::<Vec<_>>()
        };
        let (from_a, from_b) = (messages(ea), messages(eb));
        bytes = from_a.iter().chain(&from_b).map(|m| m.encode().len()).sum::<usize>();
        for m in from_b {
            sa.handle(a.book(), m, &|_, _, _| 0).unwrap();
        }
        for m in from_a {
            sb.handle(a.book(), m, &|_, _, _| 0).unwrap();
        }
        assert!(sa.is_in_sync() && sb.is_in_sync());
        t.elapsed()
    });
    let time = median(times.collect());
    measured.row(
        "nothing new between two nodes",
        "1 round trip, < 300 bytes, < 5 ms",
        format!("1 round trip, {bytes} bytes, {time:.0?} without the network"),
    );
}

fn thousand_new(measured: &mut Measurement, laptop: &mut Node, depot: &mut Node, jobs: usize) {
    let since = laptop.book().vector();
    record_shift(laptop, jobs + 10, 25);
    let log = laptop.book().own_log().unwrap();
    let raw: Vec<u8> = laptop
        .journal()
        .entries(&log, since.get(&log) + 1, u64::MAX)
        .flat_map(|r| r.unwrap().1)
        .collect();
    let count = laptop.book().vector().entries() - since.entries();
    let packed = zstd::bulk::compress(&raw, 19).unwrap().len();
    let file = measured.home("news.bundle");
    let t = Instant::now();
    let written = laptop.write_bundle(&file, &since, &Silent).unwrap();
    let wrote = t.elapsed();
    let t = Instant::now();
    depot.read_bundle(&file, &Silent).unwrap();
    let ratio = written.bytes as f64 / packed as f64;
    measured.row(
        &format!("{count} new entries among many: bytes"),
        "<= 0.6 x zstd-19 of the raw entries",
        format!("{ratio:.2} ({} against {packed}; raw {})", written.bytes, raw.len()),
    );
    measured.row(
        &format!("{count} new entries among many: time to write / to read"),
        "independent of history",
        format!("{wrote:.0?} / {:.0?}", t.elapsed()),
    );
}

fn reconcile(measured: &mut Measurement, jobs: usize) {
    let laptop = Node::open(&measured.home("laptop"), &Silent).unwrap();
    let t = Instant::now();
    let facts = laptop.all_facts().unwrap();
    let loaded = t.elapsed();
    let standard = laptop.standard();
    let clocks = Clocks::unmeasured();
    let world = World {
        facts: &facts,
        standard: &standard,
        clocks: &clocks,
    };
    let t = Instant::now();
    let found = judge_all(&world).len();
    let judged = t.elapsed();
    measured.row(
        &format!("full reconcile of {jobs} jobs ({found} findings), facts in memory"),
        "< 2 s",
        format!(
            "{:.2} s (reading them from the journal: {:.2} s)",
            judged.as_secs_f64(),
            loaded.as_secs_f64()
        ),
    );
    let indexed = IndexedFacts::new(&laptop);
    let world = World {
        facts: &indexed,
        standard: &standard,
        clocks: &clocks,
    };
    let times = (0..50).map(|i| {
        let job = format!("B{:06}", i * jobs / 50);
        let t = Instant::now();
        judge_subject(&world, &Subject::Job(job));
        t.elapsed()
    });
    let one = median(times.collect());
    measured.row(
        "judging the job of one new fact, from the index",
        "< 1 ms",
        format!("{one:.0?}"),
    );
}
