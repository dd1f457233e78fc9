//! A second, independent judge of the findings: `tests/oracles/judge`, in Python, written from the text of the contract alone.
//!
//! Random days are played on real homes of the real binary; what each recorder had seen is known from the merges, not from
//! the program. Every finding of the depot at the end (rule, severity, subject, standing, status) is compared. A day that
//! differs is made as small as possible and printed, fact by fact.
//!
//! `JUDGE_DAYS=2000` plays that many days, `JUDGE_SEED=…` begins elsewhere. Where Python (3.11 or later) is absent, a line on
//! standard error says so and the tests are skipped, unless `ORACLES=required` is set (as `.ci/run` does).

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::ffi::OsString;
use std::path::{Path, PathBuf};

use gladhand_tests::oracle::oracle;
use gladhand_tests::process::gladhand;

const DAYS: &str = "40";
const FIRST_SEED: &str = "1";

/// A setting of the environment, or what stands for it.
fn setting(name: &str, otherwise: &str) -> PathBuf {
    PathBuf::from(std::env::var_os(name).unwrap_or_else(|| OsString::from(otherwise)))
}

#[test]
fn the_second_judge_says_what_the_contract_says() {
    oracle(
        "the_second_judge_says_what_the_contract_says",
        "judge/test_judge.py",
        &[],
    );
}

#[test]
#[ignore = "the rules of the program are being written anew: pairs, purposes, withdrawals, eleven new rules"]
fn the_second_judge_and_the_program_agree_on_random_days() {
    let (days, seed) = (setting("JUDGE_DAYS", DAYS), setting("JUDGE_SEED", FIRST_SEED));
    let words = [
        Path::new("--bin"),
        gladhand(),
        Path::new("--days"),
        &days,
        Path::new("--seed"),
        &seed,
    ];
    oracle(
        "the_second_judge_and_the_program_agree_on_random_days",
        "judge/compare.py",
        &words,
    );
}
