//! A depot and five laptops as real processes that are killed while people record: see `gladhand_tests::soak`.
//! `SOAK_SECONDS=… ` runs it longer, `SEED=…` with other chances.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::time::Duration;

fn number(name: &str, default: u64) -> u64 {
    std::env::var(name).map_or(default, |text| text.parse().expect("a number"))
}

#[test]
fn a_yard_of_daemons_that_are_killed_loses_no_receipt() {
    let seconds = number("SOAK_SECONDS", 8);
    let done = gladhand_tests::soak::soak(number("SEED", 0x0302_0006), Duration::from_secs(seconds));
    println!("{seconds} s of action: {done:?}");
    assert!(done.receipts > 0 && done.kills > 0, "{done:?}");
}
