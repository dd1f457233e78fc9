//! Poison of an enrolled device: entries that are rightly chained and signed by its key, whose Automerge changes are anything
//! but. Through real sockets and by bundle: set aside and reported, everything else merges, and the daemon lives.
//!
//! The rogue device writes into its own journal what no honest program would, and then runs like any other.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs
)]

mod common;

use common::{Running, acquaint, depot, laptop, note, start};
use gladhand_facts::{DeviceKey, Fact, LogId, VersionVector};
use gladhand_logbook::jobdoc::JobDoc;
use gladhand_logbook::{Body, Book, DeviceSecret, NewRecord};
use gladhand_net::sync::{self, Whom};
use gladhand_node::{Node, Silent};
use gladhand_store::{Home, Journal, Record, RecordKind};

/// Honest work on one job, as changes of `log`.
fn honest(log: LogId, job: &str, count: u64) -> Vec<Vec<u8>> {
    let mut doc = JobDoc::new(job).unwrap();
    let write = |n: u64| {
        let line = serde_json::json!({"kind": "note", "job": job, "text": format!("honest {n}")}).to_string();
        let fact = Fact::from_line(&log.device, &line).unwrap();
        doc.write(log, n, 1_770_000_000, &[fact]).unwrap()
    };
    (1..=count).map(write).collect()
}

fn change(job: &str, change: Vec<u8>) -> Body {
    Body::Change {
        job: job.to_owned(),
        change,
    }
}

fn loose(text: &str) -> Body {
    Body::Loose(vec![format!(r#"{{"kind":"note","text":"{text}"}}"#)])
}

/// Writes these bodies into a closed home's own log, signed by its key.
fn write_into(home: &std::path::Path, root: DeviceKey, bodies: Vec<Body>) {
    let home = Home::open(home, &gladhand_node::Environment::machine().machine_id).unwrap();
    let secret = DeviceSecret::from_seed(home.key_seed());
    let log = LogId {
        device: secret.public(),
        incarnation: home.writes().unwrap(),
    };
    let mut book = Book::new(Some(root));
    let mut replay = |record: &Record<'_>, _| match record.kind {
        RecordKind::Entry => book.replay_entry(record.log, record.seq, record.bytes).unwrap(),
        RecordKind::Checkpoint => book.replay_checkpoint(record.log, record.seq),
        RecordKind::Other(_) => {}
    };
    let layout = home.layout();
    let (mut journal, damage) = Journal::open(&layout.log(), &layout.evidence(), &mut replay).unwrap();
    assert!(damage.is_empty());
    book.write_as(secret, log);
    let new = book.write(bodies, 1_770_000_000_000_000).unwrap();
    let records: Vec<Record<'_>> = new.records.iter().map(as_record).collect();
    journal.append(&records).unwrap();
}

fn as_record(new: &NewRecord) -> Record<'_> {
    match new {
        NewRecord::Entry { log, seq, bytes } => Record::entry(*log, *seq, bytes),
        NewRecord::Checkpoint(c) => Record::checkpoint(c.log, c.seq, &c.signature),
    }
}

/// SplitMix64 (Steele, Lea, Flood 2014), from memory: only a way to numbers that are the same in each run.
struct SeededRng(u64);

impl SeededRng {
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % limit as u64) as usize
    }
}

/// One of the ways in which bytes go wrong. Receivers make the checksum right again themselves: it is not carried.
fn mutated(honest: &[Vec<u8>], rng: &mut SeededRng) -> Vec<u8> {
    let mut bytes = honest[rng.below(honest.len())].clone();
    for _ in 0..=rng.below(3) {
        let at = rng.below(bytes.len());
        match rng.below(6) {
            0 => bytes[at] ^= 1 << rng.below(8),
            1 => bytes[at] = [0, 1, 0x7f, 0x80, 0xff][rng.below(5)],
            2 => bytes.truncate(at.max(1)),
            3 => bytes.insert(at, rng.below(256) as u8),
            4 => drop(bytes.remove(at)),
            _ => bytes.splice(at..at, [0xff; 9]).for_each(drop),
        }
        if bytes.is_empty() {
            bytes.push(0);
        }
    }
    bytes
}

/// An honest first change (one dependency, `1 0`; seq; start_op; …) whose operations begin at `start`.
fn starting_at(first: &[u8], start: u64) -> Vec<u8> {
    assert_eq!(
        first[..4],
        [1, 0, 1, 4],
        "the first change depends on the beginning and has operation 4"
    );
    let mut bytes = first[..3].to_vec();
    let mut left = start;
    while left >= 0x80 {
        bytes.push(left as u8 | 0x80);
        left >>= 7;
    }
    bytes.push(left as u8);
    bytes.extend(&first[4..]);
    bytes
}

/// A megabyte of DEFLATE (RFC 1951, sections 3.2.3 and 3.2.7) that stands for more than a gigabyte of zeros: a block whose
/// codes are one bit long for "258 bytes from one back" and for its distance, so that each two zero bits are 258 bytes.
fn bomb() -> Vec<u8> {
    let mut bits: Vec<bool> = Vec::new();
    let mut number = |value: usize, width: usize| bits.extend((0..width).map(|i| value >> i & 1 == 1));
    // Last block, dynamic codes; 286 lengths, 1 distance, 18 lengths of length codes.
    [(1, 1), (2, 2), (29, 5), (0, 5), (14, 4)]
        .into_iter()
        .for_each(|(value, width)| number(value, width));
    // In the order 16 17 18 0 8 7 9 6 10 5 11 4 12 3 13 2 14 1: 18 has one bit, 1 and 2 have two.
    let lengths = [0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 2, 0, 2];
    lengths.into_iter().for_each(|length| number(length, 3));
    // Codes: 18 is 0, 1 is 10, 2 is 11 (first bit first).
    let zeros = |n: usize| [(0, 1), (n - 11, 7)];
    let (one, two) = ([(1, 1), (0, 1)], [(1, 1), (1, 1)]);
    for (value, width) in [two, zeros(138), zeros(117), two, zeros(28), one, one].concat() {
        number(value, width);
    }
    // A zero byte (10), and from there on matches.
    [(1, 1), (0, 1)]
        .into_iter()
        .for_each(|(value, width)| number(value, width));
    let mut bytes: Vec<u8> = bits
        .chunks(8)
        .map(|byte| {
            byte.iter()
                .enumerate()
                .fold(0, |sum, (i, bit)| sum | u8::from(*bit) << i)
        })
        .collect();
    bytes.resize(1 << 20, 0);
    bytes
}

/// An honest change with its column of values swapped for a compressed one: bit 3 of a column's name says DEFLATE
/// (Automerge binary document format, "column specification").
fn inflating(first: &[u8]) -> Vec<u8> {
    let name = first.windows(8).position(|w| w == b"gladhand").unwrap();
    let (count_at, count) = (name + 8, usize::from(first[name + 8]));
    let columns: Vec<(u8, usize)> = (0..count)
        .map(|i| (first[count_at + 1 + 2 * i], usize::from(first[count_at + 2 + 2 * i])))
        .collect();
    let mut data_at = count_at + 1 + 2 * count;
    let (mut names, mut data) = (Vec::new(), Vec::new());
    let bomb = bomb();
    for (column, length) in columns {
        // 87 = column 5, values: more than 127 bytes would need a longer number.
        if column == 87 {
            names.extend([87 | 8, 0x80, 0x80, 0x40]);
            data.extend(&bomb);
        } else {
            names.extend([column, length as u8]);
            data.extend(&first[data_at..data_at + length]);
        }
        data_at += length;
    }
    assert!(bomb.len() == 0x40 << 14, "the length that is written above");
    [&first[..=count_at], &names, &data].concat()
}

/// Everything that is bad, between things that are good.
fn poison(log: LogId) -> (Vec<Body>, usize) {
    let first = honest(log, "P-0", 1).remove(0);
    let mut bodies = vec![loose("good before"), change("P-0", first.clone())];
    let starts = [u64::MAX, i64::MAX as u64, u64::from(u32::MAX), (1 << 24) + 1];
    bodies.extend(starts.map(|start| change("P-start", starting_at(&first, start))));
    bodies.push(change("P-inflate", inflating(&first)));
    bodies.push(change("P-empty", Vec::new()));
    let surely_bad = starts.len() + 2;
    // One actor, one seq, other content: what two writers of one log would make.
    for n in 0..3 {
        let again = honest(log, "P-again", n + 1);
        bodies.push(change(
            "P-again",
            if n == 0 { again[0].clone() } else { honest_other(log, n) },
        ));
    }
    let mut rng = SeededRng(0x0302_6c62);
    for n in 0..300 {
        let job = format!("P-{}", n % 20);
        let real = honest(log, &job, 4);
        bodies.push(change(&job, mutated(&real, &mut rng)));
    }
    bodies.push(loose("good after"));
    (bodies, surely_bad)
}

fn honest_other(log: LogId, n: u64) -> Vec<u8> {
    let line = serde_json::json!({"kind": "note", "job": "P-again", "text": format!("another {n}")}).to_string();
    let fact = Fact::from_line(&log.device, &line).unwrap();
    JobDoc::new("P-again")
        .unwrap()
        .write(log, 1, n as i64, &[fact])
        .unwrap()
}

/// The most memory that this process ever had, in bytes.
fn peak_bytes() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|l| l.split_whitespace().next()?.parse::<u64>().ok())
        .unwrap_or(0)
        << 10
}

/// What a node shows of it all: findings, what it could not read, whether the good is there, and that it can still be used.
fn shown(node: &mut Node) -> (String, Vec<String>) {
    for text in ["good before", "good after", "honest 1"] {
        let facts = node.all_facts().unwrap();
        let is_there = facts.all().any(|w| w.fact.text("text").as_deref() == Some(text));
        assert!(is_there, "{text}");
    }
    for job in ["P-0", "P-start", "P-again", "P-inflate", "P-empty"] {
        node.load_doc(job).unwrap();
    }
    let wrong = node.verify(&Silent).unwrap().wrong;
    let findings = serde_json::to_string(&node.findings().unwrap()).unwrap();
    let mut problems = node.problems().unwrap();
    problems.sort();
    assert_eq!(
        wrong.len(),
        problems.len(),
        "what does not read is all that is wrong: {wrong:?}"
    );
    (findings, problems)
}

async fn level(from: &Running, to: &Running) -> bool {
    let merged = sync::sync(&from.hub, &Whom::Place(to.at().to_string()), &[], false).await;
    merged[0].outcome.as_ref().is_ok_and(|tally| tally.level)
}

#[tokio::test(flavor = "multi_thread")]
async fn poison_travels_by_socket_and_bundle_and_hurts_nobody() {
    gladhand_node::caught_panics::hush();
    let dir = tempfile::tempdir().unwrap();
    let mut harrow = depot(dir.path());
    let mut mara = laptop(dir.path(), "mara", &harrow);
    let mut ilse = laptop(dir.path(), "ilse", &harrow);
    acquaint(&mut [&mut harrow, &mut mara, &mut ilse]);
    let log = LogId {
        device: mara.device(),
        incarnation: 1,
    };
    let root = harrow.device();
    mara.close().unwrap();
    let (bodies, surely_bad) = poison(log);
    write_into(&dir.path().join("mara"), root, bodies);
    let before = peak_bytes();

    // Through a socket, from the device that wrote it.
    let mara = Node::open(&dir.path().join("mara"), &Silent).unwrap();
    let (harrow, mara) = (start(harrow, true, &[]).await, start(mara, false, &[]).await);
    assert!(level(&mara, &harrow).await);
    let (findings, problems) = harrow.ask(shown).await;
    assert!(problems.len() >= surely_bad, "{problems:?}");
    assert!(
        problems.iter().all(|p| p.starts_with(&log.to_string())),
        "each is named by its place"
    );
    // The daemon lives, and work on a poisoned job goes on.
    harrow.ask(|node| note(node, "still here")).await;
    harrow
        .ask(|node| {
            let line = r#"{"kind":"note","job":"P-start","text":"work goes on"}"#;
            let fact = Fact::from_line(&node.device(), line).unwrap();
            node.record(vec![fact]).unwrap();
        })
        .await;
    assert!(level(&mara, &harrow).await);

    // By bundle, through a node that did not write it.
    let file = dir.path().join("poison.bundle");
    let path = file.clone();
    harrow
        .ask(move |node| node.write_bundle(&path, &VersionVector::new(), &Silent).unwrap())
        .await;
    let read = ilse.read_bundle(&file, &Silent).unwrap();
    assert!(
        read.complete && read.refused.is_empty() && read.damaged.is_empty(),
        "{read:?}"
    );
    let (at_ilse, unread_at_ilse) = shown(&mut ilse);
    let (at_harrow, unread_at_harrow) = harrow.ask(shown).await;
    assert_eq!((&at_ilse, &unread_at_ilse), (&at_harrow, &unread_at_harrow));
    assert_eq!(unread_at_harrow, problems);
    assert_eq!(findings, at_harrow, "a note changes no finding");
    let grown = peak_bytes().saturating_sub(before);
    assert!(
        grown < 400 << 20,
        "a chunk was inflated: {grown} bytes more than before"
    );
    println!(
        "{} of the poisoned entries do not read; {} MiB more at most",
        problems.len(),
        grown >> 20
    );
}
