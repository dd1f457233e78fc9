//! Prints what the store does on this machine: `cargo run --release -p gladhand-store --example figures`.
//!
//! Not a benchmark with statistics: one run, one line a figure, to be written down beside the decision it
//! belongs to.

use std::error::Error;
use std::path::Path;
use std::time::{Duration, Instant};

use gladhand_facts::{DeviceKey, FactId, LogId, Place};
use gladhand_store::{Index, IndexBatch, Journal, Position, Record};

const ENTRIES: u64 = 400_000;
const ENTRY_BYTES: usize = 250;
const LOGS: u64 = 20;

fn log(n: u64) -> LogId {
    LogId {
        device: DeviceKey([n as u8; 32]),
        incarnation: 1,
    }
}

/// Bytes that do not compress and differ everywhere.
fn body(n: u64, out: &mut [u8]) {
    let mut state = n.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
    for chunk in out.chunks_mut(8) {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        chunk
            .iter_mut()
            .zip(state.to_le_bytes())
            .for_each(|(slot, byte)| *slot = byte);
    }
}

fn rate(what: &str, count: u64, unit: &str, took: Duration) {
    let per_s = count as f64 / took.as_secs_f64();
    println!("{what:<58} {:>8.3} s {per_s:>12.0} {unit}/s", took.as_secs_f64());
}

fn resident_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status
        .lines()
        .find(|line| line.starts_with("VmRSS:"))
        .unwrap_or_default();
    let kb: f64 = line
        .split_whitespace()
        .nth(1)
        .and_then(|kb| kb.parse().ok())
        .unwrap_or_default();
    kb / 1024.0
}

fn folder_bytes(dir: &Path) -> std::io::Result<u64> {
    let mut bytes = 0;
    for entry in std::fs::read_dir(dir)? {
        let entry = entry?;
        let meta = entry.metadata()?;
        bytes += if meta.is_dir() {
            folder_bytes(&entry.path())?
        } else {
            meta.len()
        };
    }
    Ok(bytes)
}

fn main() -> Result<(), Box<dyn Error>> {
    let folder = tempfile::tempdir_in(std::env::args().nth(1).unwrap_or_else(|| ".".into()))?;
    single_appends(folder.path())?;
    let dir = folder.path().join("log");
    let evidence = folder.path().join("evidence");
    fill(&dir, &evidence)?;
    let journal = reopen(&dir, &evidence)?;
    read_back(&journal)?;
    index(&folder.path().join("index"), &evidence, &journal)
}

/// One fact, one receipt.
fn single_appends(folder: &Path) -> Result<(), Box<dyn Error>> {
    let (mut journal, _) = Journal::open(&folder.join("single"), &folder.join("evidence"), &mut |_, _| {})?;
    let mut bytes = [0; ENTRY_BYTES];
    let start = Instant::now();
    for seq in 1..=2000 {
        body(seq, &mut bytes);
        journal.append(&[Record::entry(log(1), seq, &bytes)])?;
    }
    rate(
        "append, 1 entry of 250 B a batch, durable",
        2000,
        "batches",
        start.elapsed(),
    );
    Ok(())
}

fn fill(dir: &Path, evidence: &Path) -> Result<(), Box<dyn Error>> {
    let (mut journal, _) = Journal::open(dir, evidence, &mut |_, _| {})?;
    let mut heads = vec![0u64; LOGS as usize];
    let mut bodies = vec![[0u8; ENTRY_BYTES]; 256];
    let start = Instant::now();
    let mut written = 0;
    while written < ENTRIES {
        let count = 256.min(ENTRIES - written);
        let n = written / 256 % LOGS;
        let head = heads.get_mut(n as usize).ok_or("no such log")?;
        for (i, bytes) in (0..count).zip(&mut bodies) {
            body(written + i, bytes);
        }
        let records: Vec<_> = (1..=count)
            .zip(&bodies)
            .map(|(i, b)| Record::entry(log(n), *head + i, b))
            .collect();
        journal.append(&records)?;
        *head += count;
        written += count;
    }
    rate(
        "append, 256 entries a batch, durable",
        ENTRIES,
        "entries",
        start.elapsed(),
    );
    println!(
        "{:<58} {:>8.1} bytes",
        "on disk per entry of 250 B",
        journal.disk_bytes() as f64 / ENTRIES as f64
    );
    Ok(())
}

fn reopen(dir: &Path, evidence: &Path) -> Result<Journal, Box<dyn Error>> {
    let before = resident_mb();
    let (start, mut seen) = (Instant::now(), 0);
    let (journal, damage) = Journal::open(dir, evidence, &mut |_, _| seen += 1)?;
    rate("open 400,000 entries of 250 B", seen, "entries", start.elapsed());
    println!(
        "{:<58} {:>8.1} MB",
        "resident memory that it takes",
        resident_mb() - before
    );
    assert!(damage.is_empty() && seen == ENTRIES, "nothing is damaged");
    Ok(journal)
}

fn read_back(journal: &Journal) -> Result<(), Box<dyn Error>> {
    let start = Instant::now();
    let mut bytes = 0;
    for log in journal.logs() {
        for entry in journal.entries(&log, 1, u64::MAX) {
            bytes += entry?.1.len();
        }
    }
    rate("read each log in order", ENTRIES, "entries", start.elapsed());
    assert_eq!(bytes as u64, ENTRIES * ENTRY_BYTES as u64, "all of it");

    let start = Instant::now();
    let mut count = 0;
    for batch in journal.scan_from(Position::START) {
        count += batch?.records().count() as u64;
    }
    rate(
        "read everything in the order of arrival",
        count,
        "entries",
        start.elapsed(),
    );

    let start = Instant::now();
    for i in 0..20_000u64 {
        let log = log(i * 7 % LOGS);
        let seq = 1 + i.wrapping_mul(0x9e37_79b9) % journal.head_seq(&log);
        journal.read_entry(&log, seq)?.ok_or("an entry is missing")?;
    }
    rate("read single entries anywhere", 20_000, "entries", start.elapsed());
    Ok(())
}

/// One fact as the binary files it: job, camera, tracker, trailer, day.
fn subjects(fact: u64) -> [Vec<u8>; 5] {
    let job = fact / 40;
    [
        format!("job/{job:08}").into_bytes(),
        format!("camera/LKC-{:06}", job * 7919 % 1_000_000).into_bytes(),
        format!("tracker/LKT-{:06}", job * 104_729 % 1_000_000).into_bytes(),
        format!("trailer/{:05}", job % 4000).into_bytes(),
        format!("day/2026-{:03}", job / 40).into_bytes(),
    ]
}

fn index(dir: &Path, evidence: &Path, journal: &Journal) -> Result<(), Box<dyn Error>> {
    let end = journal.end();
    let fingerprint = journal.fingerprint(end).ok_or("no end")?;
    let (mut index, _) = Index::open(dir, evidence, journal, 1)?;
    let start = Instant::now();
    for first in (0..ENTRIES).step_by(1000) {
        let mut batch = IndexBatch::new(end, fingerprint);
        for fact in first..first + 1000 {
            let place = Place {
                log: log(fact / 256 % LOGS),
                seq: fact + 1,
                index: 0,
            };
            batch.postings.extend(subjects(fact).map(|subject| (subject, place)));
            if fact % 20 == 0 {
                let mut id = [0; 32];
                body(fact, &mut id);
                batch.facts.push((FactId(id), place));
            }
        }
        index.apply(batch)?;
    }
    index.flush()?;
    rate(
        "index, 1,000 facts with 5 postings a batch",
        ENTRIES * 5,
        "postings",
        start.elapsed(),
    );
    rate("  the same in facts", ENTRIES, "facts", start.elapsed());
    println!("{:<58} {:>8.1} MB", "resident memory", resident_mb());
    let start = Instant::now();
    index.close()?;
    println!("{:<58} {:>8.3} s", "close the index", start.elapsed().as_secs_f64());
    println!("{:<58} {:>8.1} MB", "on disk", folder_bytes(dir)? as f64 / 1e6);

    let start = Instant::now();
    let (mut index, state) = Index::open(dir, evidence, journal, 1)?;
    println!(
        "{:<58} {:>8.3} s ({state:?})",
        "open the index",
        start.elapsed().as_secs_f64()
    );
    let start = Instant::now();
    let mut places = 0;
    for job in 0..2000u64 {
        places += index.about(format!("job/{:08}", job * 5 % 10_000).as_bytes())?.len();
    }
    rate("look up the 40 places of a job", 2000, "jobs", start.elapsed());
    assert_eq!(places, 80_000, "all of them");
    let start = Instant::now();
    let cameras = index.subjects(b"camera/").count() as u64;
    rate("list the cameras", cameras, "cameras", start.elapsed());

    let start = Instant::now();
    for fact in 0..500u64 {
        let mut batch = IndexBatch::new(end, fingerprint);
        let place = Place {
            log: log(1),
            seq: 1_000_000 + fact,
            index: 0,
        };
        batch.postings.extend(subjects(fact).map(|subject| (subject, place)));
        index.apply(batch)?;
        index.flush()?;
    }
    rate("index one fact and flush", 500, "facts", start.elapsed());
    Ok(())
}
