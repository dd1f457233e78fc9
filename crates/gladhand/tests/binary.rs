//! The binary starts. That there is an integration test in this package also makes `cargo test --workspace` build the
//! binary before any test runs; the whole-system tests in `tests/` ask for it by this test (see `tests/src/binary.rs`).

#![allow(clippy::expect_used)]

use std::process::Command;

#[test]
fn the_binary_says_its_name_and_version() {
    let output = Command::new(env!("CARGO_BIN_EXE_gladhand")).arg("--version").output();
    let output = output.expect("the binary starts");
    assert!(output.status.success());
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    assert_eq!(said, format!("gladhand {}\n", env!("CARGO_PKG_VERSION")));
}
