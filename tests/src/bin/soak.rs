//! Runs the hard tests on over new seeds: `cargo run --release -p gladhand-tests --bin soak -- --minutes 10`.
//!
//! A tenth of the time goes to a yard of real processes, the rest to the fleet simulator. Failing seeds, with their stories, are added
//! to a file (`soak-failures.txt`, or `--keep FILE`); `SEED=… cargo test -p gladhand-tests --test fleet` plays one again.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::io::Write;
use std::panic::catch_unwind;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use gladhand_tests::sim::{self, Tally};
use gladhand_tests::soak;

struct Wanted {
    minutes: u64,
    first: u64,
    keep: PathBuf,
}

fn wanted() -> Option<Wanted> {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).ok()?;
    let mut wanted = Wanted {
        minutes: 5,
        first: since.as_secs() << 16,
        keep: "soak-failures.txt".into(),
    };
    let mut args = std::env::args().skip(1);
    while let Some(arg) = args.next() {
        let value = args.next()?;
        match arg.as_str() {
            "--minutes" => wanted.minutes = value.parse().ok()?,
            "--first" => wanted.first = value.parse().ok()?,
            "--keep" => wanted.keep = value.into(),
            _ => return None,
        }
    }
    Some(wanted)
}

fn keep(file: &Path, what: &str) {
    let opened = std::fs::OpenOptions::new().append(true).create(true).open(file);
    let kept = opened.and_then(|mut file| writeln!(file, "{what}\n"));
    kept.expect("the failures can be kept");
}

/// Worlds until the time is up. Says how many there were, what was done in them, and how many failed.
fn worlds(wanted: &Wanted, until: Instant) -> (u64, Tally, u64) {
    let folder = sim::folder();
    let next = AtomicU64::new(wanted.first);
    let (tally, failed) = (Mutex::new(Tally::default()), AtomicU64::new(0));
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(2, usize::from) {
            scope.spawn(|| {
                while Instant::now() < until {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    match sim::play(seed, folder.path()) {
                        Ok(played) => tally.lock().unwrap().add(&played.tally),
                        Err(story) => {
                            failed.fetch_add(1, Ordering::Relaxed);
                            eprintln!("seed {seed}: {}", story.why);
                            keep(&wanted.keep, &story.to_string());
                        }
                    }
                }
            });
        }
    });
    let count = next.load(Ordering::Relaxed) - wanted.first;
    (count, tally.into_inner().unwrap(), failed.load(Ordering::Relaxed))
}

fn main() {
    let Some(wanted) = wanted() else {
        eprintln!("usage: soak [--minutes N] [--first SEED] [--keep FILE]");
        std::process::exit(2);
    };
    gladhand_node::caught_panics::hush();
    let (started, all) = (Instant::now(), Duration::from_secs(wanted.minutes * 60));
    let (seed, action) = (wanted.first, all / 10);
    let soaked = catch_unwind(|| soak::soak(seed, action));
    let mut failed = 0;
    match soaked {
        Ok(soaked) => println!("processes, {} s of action: {soaked:?}", action.as_secs()),
        Err(_) => {
            failed += 1;
            keep(
                &wanted.keep,
                &format!("SEED={seed} SOAK_SECONDS={} --test soak", action.as_secs()),
            );
        }
    }
    let (count, tally, worlds_failed) = worlds(&wanted, started + all);
    failed += worlds_failed;
    println!("{count} worlds from seed {}: {tally:#?}", wanted.first);
    if failed > 0 {
        eprintln!("{failed} failed; see {}", wanted.keep.display());
        std::process::exit(1);
    }
}
