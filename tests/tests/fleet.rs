//! Many small worlds, each from one number: see `gladhand_tests::sim`. A failing seed tells its story; `SEED=…` plays it again.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use gladhand_tests::sim::{self, Tally};

const SEEDS: u64 = 300;
/// Of so many one is played twice.
const TWICE: u64 = 10;

fn number(name: &str) -> Option<u64> {
    std::env::var(name).ok().map(|text| text.parse().expect("a number"))
}

fn play(seed: u64, dir: &std::path::Path) -> Result<Tally, String> {
    let played = sim::play(seed, dir).map_err(|failed| failed.to_string())?;
    if seed.is_multiple_of(TWICE) {
        let again = sim::play(seed, dir).map_err(|failed| failed.to_string())?;
        if again.hash != played.hash {
            return Err(format!("seed {seed} does not tell the same story twice"));
        }
    }
    Ok(played.tally)
}

#[test]
fn in_every_world_no_receipt_is_broken_and_all_come_to_the_same() {
    gladhand_node::caught_panics::hush();
    let only = number("SEED");
    let (first, count) = only.map_or((0, number("SEEDS").unwrap_or(SEEDS)), |seed| (seed, 1));
    let folder = sim::folder();
    let next = AtomicU64::new(first);
    let (tally, failed) = (Mutex::new(Tally::default()), Mutex::new(Vec::new()));
    let workers = std::thread::available_parallelism().map_or(2, usize::from).min(4);
    std::thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed >= first + count || failed.lock().unwrap().len() >= 12 {
                        break;
                    }
                    match play(seed, folder.path()) {
                        Ok(played) => tally.lock().unwrap().add(&played),
                        Err(story) => failed.lock().unwrap().push(story),
                    }
                }
            });
        }
    });
    let failed = failed.into_inner().unwrap();
    assert!(failed.is_empty(), "{}", failed.join("\n\n"));
    let tally = tally.into_inner().unwrap();
    println!("{count} worlds: {tally:#?}");
    if count >= SEEDS {
        let enough = [
            tally.kills,
            tally.failed_calls,
            tally.damaged,
            tally.copies,
            tally.restored,
            tally.retired,
        ];
        assert!(enough.iter().all(|n| *n >= 20), "the worlds were too kind: {tally:?}");
    }
}
