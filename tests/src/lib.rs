//! Support for the whole-system tests: the real binary, temporary homes, a small fleet, and rng that can be repeated.
//!
//! What a test asks for here fails the test when it cannot be had: nothing returns an error. Deliberately absent: any
//! knowledge of what the answers should be. That is in the tests, one file a question, under `tests/tests/`.

// The support of tests fails a test by panicking, never a program.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

pub mod console;
pub mod facts;
pub mod fleet;
pub mod fuzz;
pub mod markdown;
pub mod normal;
pub mod oracle;
pub mod process;
pub mod rng;
pub mod sim;
pub mod soak;
pub mod tables;

pub use fleet::{Bundles, Fleet};
pub use process::{Home, Ran};
pub use rng::SeededRng;

use std::path::{Path, PathBuf};

/// The root of the repository.
pub fn repository() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_path_buf()
}

/// The folder of the demo data.
pub fn demo_data() -> PathBuf {
    repository().join("demo-data")
}

/// All files below `dir`, as paths relative to it, in order.
pub fn files_below(dir: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![dir.to_path_buf()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display())) {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                found.push(path.strip_prefix(dir).unwrap().to_path_buf());
            }
        }
    }
    found.sort();
    found
}
