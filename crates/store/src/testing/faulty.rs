//! A disk that fails on demand, over any other disk.
//!
//! Calls are counted from 1: those that change something, and with [`Faults::count_reads`] those that read, too.

use std::collections::BTreeMap;
use std::io;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crate::disk::{Disk, DiskFile, FilePlace};

/// The kind of a call.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Call {
    /// Opening, listing, reading, asking for length or free room.
    Read,
    /// Making a file or folder.
    Create,
    /// Writing bytes.
    Write,
    /// Making a file or a folder durable.
    Sync,
    /// Cutting a file.
    Truncate,
    /// Renaming.
    Rename,
    /// Removing.
    Remove,
}

/// What goes wrong, and when. All off by default.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Faults {
    /// This call and those after it fail.
    pub fail_from: Option<u64>,
    /// From this call on they succeed again.
    pub fail_until: Option<u64>,
    /// This call fails half-way (a write writes half), and all later calls fail.
    pub kill_at: Option<u64>,
    /// How many more bytes fit on the disk; a write that does not fit writes what does, then fails.
    pub room: Option<u64>,
    /// No write writes more than this.
    pub max_write: Option<usize>,
    /// Reads are counted too, and fail.
    pub count_reads: bool,
}

impl Faults {
    /// One call fails.
    pub fn once(call: u64) -> Self {
        Self::between(call, call + 1)
    }

    /// The calls from `from` to before `until` fail.
    pub fn between(from: u64, until: u64) -> Self {
        Self {
            fail_until: Some(until),
            ..Self::from(from)
        }
    }

    /// This call and all after it fail.
    pub fn from(call: u64) -> Self {
        Self {
            fail_from: Some(call),
            ..Self::default()
        }
    }

    /// Killed in the middle of this call.
    pub fn kill_at(call: u64) -> Self {
        Self {
            kill_at: Some(call),
            ..Self::default()
        }
    }

    fn fail(&self, call: u64) -> bool {
        self.fail_from.is_some_and(|from| call >= from) && self.fail_until.is_none_or(|until| call < until)
    }
}

#[derive(Debug, Default)]
struct FaultState {
    faults: Faults,
    calls: Vec<Call>,
    killed: bool,
    spoiled: BTreeMap<PathBuf, Range<u64>>,
}

/// See the module doc. Clones share faults and counts.
#[derive(Debug, Clone)]
pub struct FaultyDisk {
    inner: Arc<dyn Disk>,
    state: Arc<Mutex<FaultState>>,
}

impl FaultyDisk {
    /// A disk that does not fail yet.
    pub fn over(inner: Arc<dyn Disk>) -> Self {
        Self {
            inner,
            state: Arc::default(),
        }
    }

    /// Restarts the count, with other faults. A killed disk stays killed.
    pub fn set(&self, faults: Faults) {
        let mut state = self.state();
        state.faults = faults;
        state.calls.clear();
    }

    /// Makes some bytes of a file unreadable, as a bad sector does, until the file is replaced.
    pub fn spoil(&self, path: &Path, bytes: Range<u64>) {
        self.state().spoiled.insert(path.to_path_buf(), bytes);
    }

    /// How many calls were counted.
    pub fn calls(&self) -> u64 {
        self.state().calls.len() as u64
    }

    /// The calls that were counted.
    pub fn trace(&self) -> Vec<Call> {
        self.state().calls.clone()
    }

    /// Whether anything on it may fail.
    pub fn is_troubled(&self) -> bool {
        let state = self.state();
        state.killed || !state.spoiled.is_empty() || state.faults != Faults::default()
    }

    /// Whether it was killed.
    pub fn is_killed(&self) -> bool {
        self.state().killed
    }

    fn state(&self) -> MutexGuard<'_, FaultState> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn check(&self, call: Call) -> io::Result<()> {
        self.state().check(call)
    }

    fn file(&self, inner: Box<dyn DiskFile>, path: &Path) -> Box<dyn DiskFile> {
        Box::new(FaultyFile {
            inner,
            path: path.to_path_buf(),
            disk: self.clone(),
        })
    }
}

fn broken(what: &str) -> io::Error {
    io::Error::other(format!("a test made this fail: {what}"))
}

impl FaultState {
    fn check(&mut self, call: Call) -> io::Result<()> {
        if self.killed {
            return Err(broken("killed"));
        }
        if call == Call::Read && !self.faults.count_reads {
            return Ok(());
        }
        self.calls.push(call);
        let n = self.calls.len() as u64;
        if self.faults.kill_at == Some(n) {
            self.killed = true;
            return Err(broken("killed now"));
        }
        if self.faults.fail(n) {
            Err(broken("this call"))
        } else {
            Ok(())
        }
    }

    /// How many of `len` bytes are written, and whether that is a failure.
    fn portion(&mut self, len: usize) -> (usize, io::Result<()>) {
        if let Err(error) = self.check(Call::Write) {
            let torn = if self.faults.kill_at == Some(self.calls.len() as u64) {
                len / 2
            } else {
                0
            };
            return (torn, Err(error));
        }
        let len = self.faults.max_write.map_or(len, |max| len.min(max));
        match &mut self.faults.room {
            Some(room) if *room < len as u64 => {
                let fits = std::mem::take(room) as usize;
                (fits, Err(io::ErrorKind::StorageFull.into()))
            }
            Some(room) => {
                *room -= len as u64;
                (len, Ok(()))
            }
            None => (len, Ok(())),
        }
    }
}

impl Disk for FaultyDisk {
    fn names(&self, dir: &Path) -> io::Result<Vec<String>> {
        self.check(Call::Read)?;
        self.inner.names(dir)
    }

    fn create_dir(&self, dir: &Path) -> io::Result<()> {
        self.check(Call::Create)?;
        self.inner.create_dir(dir)
    }

    fn open(&self, path: &Path) -> io::Result<Box<dyn DiskFile>> {
        self.check(Call::Read)?;
        let inner = self.inner.open(path)?;
        Ok(self.file(inner, path))
    }

    fn create(&self, path: &Path) -> io::Result<Box<dyn DiskFile>> {
        self.check(Call::Create)?;
        let inner = self.inner.create(path)?;
        Ok(self.file(inner, path))
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.check(Call::Rename)?;
        self.inner.rename(from, to)?;
        self.state().spoiled.remove(to);
        Ok(())
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        self.check(Call::Remove)?;
        self.inner.remove(path)
    }

    fn sync_dir(&self, dir: &Path) -> io::Result<()> {
        self.check(Call::Sync)?;
        self.inner.sync_dir(dir)
    }

    fn free_bytes(&self, dir: &Path) -> io::Result<u64> {
        self.check(Call::Read)?;
        self.inner.free_bytes(dir)
    }

    fn place(&self, path: &Path) -> io::Result<FilePlace> {
        self.check(Call::Read)?;
        self.inner.place(path)
    }

    fn salt(&self) -> io::Result<u64> {
        self.inner.salt()
    }
}

#[derive(Debug)]
struct FaultyFile {
    inner: Box<dyn DiskFile>,
    path: PathBuf,
    disk: FaultyDisk,
}

impl DiskFile for FaultyFile {
    fn len(&self) -> io::Result<u64> {
        self.disk.check(Call::Read)?;
        self.inner.len()
    }

    fn read_at(&self, offset: u64, buf: &mut [u8]) -> io::Result<usize> {
        self.disk.check(Call::Read)?;
        let wanted = offset..offset + buf.len() as u64;
        let spoiled = self.disk.state().spoiled.get(&self.path).cloned();
        if spoiled.is_some_and(|bad| bad.start < wanted.end && wanted.start < bad.end) {
            return Err(rustix::io::Errno::IO.into());
        }
        self.inner.read_at(offset, buf)
    }

    fn write_at(&self, offset: u64, bytes: &[u8]) -> io::Result<usize> {
        let (len, outcome) = self.disk.state().portion(bytes.len());
        let part = bytes.get(..len).unwrap_or_default();
        if !part.is_empty() {
            self.inner.write_at(offset, part)?;
        }
        outcome.map(|()| len)
    }

    fn sync(&self) -> io::Result<()> {
        self.disk.check(Call::Sync)?;
        self.inner.sync()
    }

    fn truncate(&self, len: u64) -> io::Result<()> {
        self.disk.check(Call::Truncate)?;
        self.inner.truncate(len)
    }
}
