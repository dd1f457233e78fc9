//! Where the binary under test is.
//!
//! `cargo test --workspace` builds it: `crates/gladhand/tests/binary.rs` is an integration test of that package, and cargo
//! builds a package's binaries for its integration tests, before any test runs, with the same features and profile as
//! the tests. It then lies beside the `deps` folder in which this test program itself lies. When it is missing
//! there, or older than one of its sources (`cargo test -p gladhand-tests` alone does not build it), it is built here,
//! once in each test program, into the same folder.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;
use std::time::SystemTime;

/// The binary.
pub fn gladhand() -> &'static Path {
    static FOUND: OnceLock<PathBuf> = OnceLock::new();
    FOUND.get_or_init(|| {
        let place = Place::of_this_program();
        if !is_fresh(&place.binary()) {
            place.build();
        }
        place.binary()
    })
}

/// Where cargo puts what it builds like this test program.
struct Place {
    /// The folder of the profile, such as `target/debug`.
    dir: PathBuf,
}

impl Place {
    fn of_this_program() -> Self {
        let program = std::env::current_exe().unwrap();
        // target/debug/deps/name-hash
        let dir = program.ancestors().nth(2).unwrap().to_path_buf();
        Self { dir }
    }

    fn binary(&self) -> PathBuf {
        self.dir.join(format!("gladhand{}", std::env::consts::EXE_SUFFIX))
    }

    fn build(&self) {
        let profile = match self.dir.file_name().and_then(|name| name.to_str()) {
            Some("debug") | None => "dev",
            Some(other) => other,
        };
        let above = self.dir.parent().unwrap();
        // Only the top of a target folder has this file: below it lies a folder for each `--target`.
        let is_top = above.join("CACHEDIR.TAG").exists();
        let cargo = std::env::var_os("CARGO").unwrap_or_else(|| env!("CARGO").into());
        let mut command = Command::new(cargo);
        // The whole workspace, so that the features are those that the tests were built with.
        command.current_dir(crate::repository());
        command.args([
            "build",
            "--workspace",
            "--bin",
            "gladhand",
            "--profile",
            profile,
            "--target-dir",
        ]);
        if is_top {
            command.arg(above);
        } else {
            command
                .arg(above.parent().unwrap())
                .arg("--target")
                .arg(above.file_name().unwrap());
        }
        // What cargo tells this test of its package is not to be told to the build of others: some build scripts would
        // run again for it.
        let told = |name: &str| {
            ["CARGO_PKG_", "CARGO_MANIFEST_", "CARGO_BIN_", "CARGO_CRATE_"]
                .iter()
                .any(|start| name.starts_with(start))
        };
        for (name, _) in std::env::vars_os().filter(|(name, _)| name.to_str().is_some_and(told)) {
            command.env_remove(name);
        }
        let status = command.status().expect("cargo runs");
        assert!(status.success(), "building the binary under test failed: {status}");
    }
}

/// Whether the binary is newer than all of its sources, which cargo lists beside it.
fn is_fresh(binary: &Path) -> bool {
    let changed = |path: &Path| -> Option<SystemTime> { path.metadata().ok()?.modified().ok() };
    let (Some(built), Ok(list)) = (changed(binary), std::fs::read_to_string(binary.with_extension("d"))) else {
        return false;
    };
    let sources = list.split_once(": ").map_or("", |(_, sources)| sources);
    // A space within a name is written with a backslash before it.
    let sources = sources.replace("\\ ", "\0");
    sources
        .split_whitespace()
        .all(|source| changed(Path::new(&source.replace('\0', " "))).is_some_and(|at| at <= built))
}
