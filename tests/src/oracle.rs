//! Outside oracles: scripts of `tests/oracles` that ask a Python package. They know none of our rules.
//!
//! Where Python or the package is absent, a line on standard error says so and the test is skipped, unless
//! `ORACLES=required` is set (as `.ci/run` does).

use std::ffi::OsStr;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Output};

use crate::repository;

/// What a script exits with when its package is not there.
const PACKAGE_ABSENT: i32 = 3;

/// Runs a script of `tests/oracles`. `None` when Python or the package is absent, which has then been said.
pub fn oracle(test: &str, script: &str, args: &[&Path]) -> Option<()> {
    // A command of that name may be no Python: a placeholder that offers to install one.
    let recent = ["-c", "import sys; sys.exit(sys.version_info < (3, 8))"].map(OsStr::new);
    if !python(&recent).is_ok_and(|ran| ran.status.success()) {
        return skipped(test, "there is no python3 of version 3.8 or later");
    }
    let script = repository().join("tests/oracles").join(script);
    let mut words = vec![script.as_os_str()];
    words.extend(args.iter().map(|path| path.as_os_str()));
    let ran = python(&words).unwrap();
    let (out, err) = (
        String::from_utf8_lossy(&ran.stdout),
        String::from_utf8_lossy(&ran.stderr),
    );
    if ran.status.code() == Some(PACKAGE_ABSENT) {
        return skipped(test, err.trim());
    }
    assert!(ran.status.success(), "{}: {out}{err}", script.display());
    println!("{test}: judged by {}", out.trim());
    Some(())
}

/// Python, which looks into our own folder before any other.
fn python(words: &[&OsStr]) -> std::io::Result<Output> {
    let site = repository().join("tests/oracles/.site");
    Command::new("python3").env("PYTHONPATH", site).args(words).output()
}

/// Says that a test is skipped, past the harness, which keeps what a passing test prints to itself.
fn skipped(test: &str, why: &str) -> Option<()> {
    let required = std::env::var_os("ORACLES").is_some_and(|v| v == "required");
    assert!(
        !required,
        "{test}: {why}, but ORACLES=required; see tests/oracles/README.md"
    );
    let line = format!("\nSKIPPED {test}: {why}; see tests/oracles/README.md\n");
    std::io::stderr().write_all(line.as_bytes()).unwrap();
    None
}
