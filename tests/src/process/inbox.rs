//! The inbox of a home, from outside: files dropped, read, rejected.

use std::path::{Path, PathBuf};
use std::time::Duration;

use serde_json::Value;

use super::{DEADLINE, Home, until_in};

impl Home {
    /// The folder.
    pub fn inbox(&self) -> PathBuf {
        self.file("inbox")
    }

    /// Drops a file as a careful program does: beside, then renamed into place.
    pub fn drop_file(&self, name: &str, bytes: impl AsRef<[u8]>) {
        let temporary = self.file(format!("{name}.coming"));
        std::fs::write(&temporary, bytes).unwrap();
        std::fs::rename(&temporary, self.inbox().join(name)).unwrap();
    }

    /// Whether a file was read and has moved on.
    pub fn is_done(&self, name: &str) -> bool {
        self.inbox().join("done").join(name).exists() && !self.inbox().join(name).exists()
    }

    /// Waits until a file was read and has moved on.
    #[track_caller]
    pub fn wait_done(&self, name: &str) {
        self.wait_done_in(name, DEADLINE);
    }

    /// As [`Home::wait_done`], with a deadline of its own.
    #[track_caller]
    pub fn wait_done_in(&self, name: &str, deadline: Duration) {
        until_in(&format!("{name} in done"), deadline, || self.is_done(name));
    }

    /// The lines of a file that were rejected.
    #[track_caller]
    pub fn rejected(&self, name: &str) -> Vec<Value> {
        let file = self.inbox().join("rejected").join(format!("{name}.rejected.jsonl"));
        let text = std::fs::read_to_string(&file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
        text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
    }
}

/// The names in a folder, in order; none when it is not there.
pub fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut names: Vec<String> = entries.map(|e| e.file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}
