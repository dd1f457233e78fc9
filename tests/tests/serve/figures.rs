//! Figures of a daemon, for DEVELOPERS.md: `cargo test --release -p gladhand-tests --test serve figures -- --ignored --nocapture`.
//! `GLADHAND_FIGURES_ENTRIES` sets how much history there is (default 400,000 entries).

use std::fs::File;
use std::io::{BufRead, Write};
use std::time::{Duration, Instant};

use gladhand_tests::Home;
use gladhand_tests::process::{Daemon, TempHome};

use crate::note_line;

const RECEIPTS: usize = 300;
/// How long an idle daemon is watched.
const IDLE: Duration = Duration::from_secs(60);

fn median(mut times: Vec<Duration>) -> Duration {
    times.sort();
    times[times.len() / 2]
}

/// One append of a record's size, made durable.
fn one_fsync(home: &Home) -> Duration {
    let mut file = File::create(home.file("probe")).unwrap();
    let write = |_| {
        let started = Instant::now();
        file.write_all(&[7; 400]).unwrap();
        file.sync_data().unwrap();
        started.elapsed()
    };
    median((0..RECEIPTS).map(write).collect())
}

/// From a line on a pipe to its receipt.
fn one_receipt(home: &Home, name: &str) -> Duration {
    let mut child = home.start(&["record", "-"]);
    let (mut stdin, mut receipts) = (child.stdin(), child.stdout().lines());
    let receipt = |n| {
        let line = note_line(&format!("{name} {n}"));
        let started = Instant::now();
        stdin.write_all(line.as_bytes()).unwrap();
        receipts.next().unwrap().unwrap();
        started.elapsed()
    };
    let times: Vec<Duration> = (0..RECEIPTS).map(receipt).collect();
    drop(stdin);
    child.wait();
    median(times)
}

fn one_command(home: &Home) -> Duration {
    let run = |n| {
        let started = Instant::now();
        home.good(&["note", &format!("command {n}")]);
        started.elapsed()
    };
    median((0..50).map(run).collect())
}

fn status(daemon: &Daemon, key: &str) -> u64 {
    let pid = daemon.id();
    let tasks = std::fs::read_dir(format!("/proc/{pid}/task")).unwrap().flatten();
    let whole = [std::path::PathBuf::from(format!("/proc/{pid}"))];
    let places: Vec<_> = if key.starts_with("Vm") {
        whole.into()
    } else {
        tasks.map(|t| t.path()).collect()
    };
    let value = |place: std::path::PathBuf| {
        let text = std::fs::read_to_string(place.join("status")).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix(key)).map(str::to_owned);
        line.and_then(|l| l.trim_start_matches(':').split_whitespace().next()?.parse::<u64>().ok())
            .unwrap_or(0)
    };
    places.into_iter().map(value).sum()
}

fn wakeups(daemon: &Daemon) -> u64 {
    status(daemon, "voluntary_ctxt_switches")
}

/// A yard's history of about so many entries: twenty jobs are under way at a time, forty facts each.
fn history(entries: usize) -> Vec<String> {
    let fact = |job: usize, step: usize| {
        let value = step as f64 / 4.0;
        format!(
            "{{\"kind\":\"check\",\"job\":\"J{job:06}\",\"check\":\"placement-top\",\"value\":{value},\"unit\":\"in\",\
             \"at\":\"2026-03-02T08:00:00Z\",\"note\":\"{step}\"}}\n"
        )
    };
    // Facts of one job in a row would share an entry, so the jobs take turns.
    let at_a_time = |first: usize| (0..40).flat_map(move |step| (first..first + 20).map(move |job| fact(job, step)));
    (0..entries / 800).flat_map(|group| at_a_time(group * 20)).collect()
}

#[test]
#[ignore = "takes minutes, and says something only in a release build"]
fn figures() {
    let entries = std::env::var("GLADHAND_FIGURES_ENTRIES")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(400_000);
    let home = TempHome::laptop();
    let daemon = home.serve();
    println!("one fsync                    {:?}", one_fsync(&home));
    println!("receipt through the daemon   {:?}", one_receipt(&home, "daemon"));
    println!("a whole `note` command       {:?}", one_command(&home));
    let lines = history(entries);
    let chunks: Vec<String> = lines.chunks(20_000).map(<[String]>::concat).collect();
    let started = Instant::now();
    for (n, chunk) in chunks.iter().enumerate() {
        home.drop_file(&format!("{n}.jsonl"), chunk);
    }
    (0..chunks.len()).for_each(|n| home.wait_done_in(&format!("{n}.jsonl"), Duration::from_secs(600)));
    let rate = lines.len() as f64 / started.elapsed().as_secs_f64();
    println!(
        "inbox                        {rate:.0} facts a second, {} in all",
        lines.len()
    );
    println!(
        "resident after that          {} MiB (peak {})",
        status(&daemon, "VmRSS") >> 10,
        status(&daemon, "VmHWM") >> 10
    );
    println!("receipt through the daemon   {:?}", one_receipt(&home, "full"));
    let stopped = daemon.stop();
    println!("orderly end                  {stopped:?}");
    println!("receipt without a daemon     {:?}", one_receipt(&home, "alone"));
    println!("a whole `note`, no daemon    {:?}", one_command(&home));
    let started = Instant::now();
    let daemon = home.serve();
    println!("start until ready            {:?}", started.elapsed());
    // Everything that follows a start has happened by then.
    std::thread::sleep(Duration::from_secs(10));
    let before = wakeups(&daemon);
    std::thread::sleep(IDLE);
    println!(
        "idle                         {} wakeups in {IDLE:?}, {} MiB",
        wakeups(&daemon) - before,
        status(&daemon, "VmRSS") >> 10
    );
    daemon.stop();
}
