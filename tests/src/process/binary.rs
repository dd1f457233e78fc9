//! Where the binary under test is.
//!
//! `cargo test --workspace` builds it before any test runs: `crates/gladhand/tests/binary.rs` is an integration test of
//! that package, and cargo builds a package's binaries for those. It then lies beside the `deps` folder in which this test
//! program itself lies. `cargo test -p gladhand-tests` alone does not build it, so each test program asks cargo once more
//! for just that (a tenth of a second when nothing has changed): the same command, hence the same features and no second
//! build of anything.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::OnceLock;

/// The binary.
pub fn gladhand() -> &'static Path {
    static FOUND: OnceLock<PathBuf> = OnceLock::new();
    FOUND.get_or_init(|| {
        let program = std::env::current_exe().unwrap();
        // target/debug/deps/name-hash for a test, target/debug/name for a binary.
        let beside = program.parent().unwrap();
        let in_deps = beside.file_name().is_some_and(|name| name == "deps");
        let dir = if in_deps { beside.parent().unwrap() } else { beside };
        build(dir);
        let binary = dir.join(format!("gladhand{}", std::env::consts::EXE_SUFFIX));
        assert!(
            binary.is_file(),
            "cargo has built it, yet {} is not there",
            binary.display()
        );
        binary
    })
}

/// Has cargo build the binary into `dir`, the folder of a profile such as `target/debug`.
fn build(dir: &Path) {
    let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| env!("CARGO").into()));
    command.current_dir(crate::repository());
    command.args(["test", "--workspace", "--no-run", "--quiet", "--test", "binary"]);
    if let Some(profile) = dir.file_name().filter(|name| *name != "debug") {
        command.arg("--profile").arg(profile);
    }
    let above = dir.parent().unwrap();
    // Only the top of a target folder has this file: below it lies a folder for each `--target`.
    if above.join("CACHEDIR.TAG").exists() {
        command.arg("--target-dir").arg(above);
    } else {
        let (top, target) = (above.parent().unwrap(), above.file_name().unwrap());
        command.arg("--target-dir").arg(top).arg("--target").arg(target);
    }
    // What cargo tells this test of its package is not to be told to the build of others: some build scripts would run
    // again for it.
    let is_told = |name: &str| {
        let starts = ["CARGO_PKG_", "CARGO_MANIFEST_", "CARGO_BIN_", "CARGO_CRATE_"];
        starts.iter().any(|start| name.starts_with(start))
    };
    for (name, _) in std::env::vars_os() {
        if name.to_str().is_some_and(is_told) {
            command.env_remove(name);
        }
    }
    // The list of what was built is nobody's concern here.
    let status = command.stdout(Stdio::null()).status().expect("cargo runs");
    assert!(status.success(), "building the binary under test failed: {status}");
}
