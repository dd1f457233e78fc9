//! Where files go: `done/` under a name that is free, rejected lines beside.

use std::ffi::{OsStr, OsString};
use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use gladhand_store::Layout;
use serde::Serialize;

/// Moves a file of the inbox to `done/`, under a number when its name is taken. Returns where it is now.
///
/// # Errors
/// When it cannot be moved; it is where it was then.
pub fn to_done(layout: &Layout, name: &OsStr) -> io::Result<PathBuf> {
    let done = free_name(&layout.inbox_done(), name);
    std::fs::rename(layout.inbox().join(name), &done)?;
    Ok(done)
}

/// Leaves a note beside a file that brought nothing new. The note is a courtesy: without it everything is as safe.
pub fn note_nothing_new(done: &Path, facts: u64) {
    let mut name = done.as_os_str().to_owned();
    name.push(".note.txt");
    let facts = crate::show::counted(facts, "fact", "facts");
    let text = format!("Nothing new: this device had recorded all of it before ({facts}).\n");
    if let Err(error) = std::fs::write(&name, text) {
        tracing::debug!(%error, "inbox: {} could not be written: {error}", Path::new(&name).display());
    }
}

/// `a.jsonl`, or `a.2.jsonl`, or `a.3.jsonl`, … Only this thread moves files there.
fn free_name(dir: &Path, name: &OsStr) -> PathBuf {
    let whole = dir.join(name);
    let path = Path::new(name);
    let taken = |path: &Path| std::fs::symlink_metadata(path).is_ok();
    let numbered = |number: u64| {
        let mut name = path.file_stem().unwrap_or(name).to_owned();
        name.push(format!(".{number}"));
        if let Some(ending) = path.extension() {
            name.push(".");
            name.push(ending);
        }
        dir.join(name)
    };
    if !taken(&whole) {
        return whole;
    }
    (2..).map(numbered).find(|path| !taken(path)).unwrap_or(whole)
}

/// A line of `rejected/<file>.rejected.jsonl`.
#[derive(Serialize)]
struct RejectedLine<'a> {
    /// The number of the line in its file, from 1.
    line: u64,
    reason: &'a str,
    /// The line itself, so that it can be corrected and dropped in again.
    text: &'a str,
}

/// The rejected lines of one file, on their way to `rejected/<file>.rejected.jsonl`.
pub struct Rejects {
    dir: PathBuf,
    name: OsString,
    temporary: PathBuf,
    writer: Option<BufWriter<File>>,
}

impl Rejects {
    /// For the file `name`.
    pub fn new(layout: &Layout, name: &OsStr) -> Self {
        let dir = layout.inbox_rejected();
        let mut temporary = OsString::from(".");
        temporary.push(name);
        temporary.push(".part");
        let mut rejected = name.to_owned();
        rejected.push(".rejected.jsonl");
        Self {
            temporary: dir.join(temporary),
            dir,
            name: rejected,
            writer: None,
        }
    }

    /// Adds a line.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn add(&mut self, line: u64, reason: &str, text: &str) -> io::Result<()> {
        let writer = match &mut self.writer {
            Some(writer) => writer,
            None => self.writer.insert(BufWriter::new(File::create(&self.temporary)?)),
        };
        serde_json::to_writer(&mut *writer, &RejectedLine { line, reason, text })?;
        writer.write_all(b"\n")
    }

    /// Makes them durable under their name. `None`: there are none. The same lines as last time are kept once.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn finish(&mut self) -> io::Result<Option<PathBuf>> {
        let Some(writer) = self.writer.take() else {
            return Ok(None);
        };
        writer
            .into_inner()
            .map_err(io::IntoInnerError::into_error)?
            .sync_all()?;
        let place = self.dir.join(&self.name);
        if same_bytes(&self.temporary, &place) {
            std::fs::remove_file(&self.temporary)?;
            return Ok(Some(place));
        }
        let place = free_name(&self.dir, &self.name);
        std::fs::rename(&self.temporary, &place)?;
        File::open(&self.dir)?.sync_all()?;
        Ok(Some(place))
    }
}

impl Drop for Rejects {
    fn drop(&mut self) {
        if self.writer.take().is_some() {
            std::fs::remove_file(&self.temporary).ok();
        }
    }
}

fn same_bytes(one: &Path, other: &Path) -> bool {
    let hash = |path: &Path| {
        let mut hasher = blake3::Hasher::new();
        io::copy(&mut File::open(path).ok()?, &mut hasher).ok()?;
        Some(hasher.finalize())
    };
    let bytes = |path: &Path| std::fs::metadata(path).map(|meta| meta.len()).ok();
    bytes(one) == bytes(other) && hash(one).is_some_and(|one| Some(one) == hash(other))
}
