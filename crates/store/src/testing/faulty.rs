//! A disk that fails on order, over any other disk.
//!
//! Calls are counted from 1 in the order in which they come: those that change something, and with
//! [`Faults::count_reads`] those that read as well.

use std::io;
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crate::disk::{Disk, DiskFile, FilePlace};

/// What a call was, for whoever wants to see them.
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
    /// This call fails.
    pub fail_call: Option<u64>,
    /// This call and all after it fail.
    pub fail_from: Option<u64>,
    /// This call fails half-way (a write writes half), and nothing reaches the disk from then on.
    pub kill_at: Option<u64>,
    /// How many more bytes fit on the disk; a write that does not fit writes what does, then fails.
    pub room: Option<u64>,
    /// No write writes more than this.
    pub max_write: Option<usize>,
    /// Reads are counted, and fail, as well.
    pub count_reads: bool,
}

#[derive(Debug, Default)]
struct State {
    faults: Faults,
    calls: Vec<Call>,
    killed: bool,
}

/// See the module doc. Clones share faults and counts.
#[derive(Debug, Clone)]
pub struct FaultyDisk {
    inner: Arc<dyn Disk>,
    state: Arc<Mutex<State>>,
}

impl FaultyDisk {
    /// A disk that does not fail yet.
    pub fn over(inner: Arc<dyn Disk>) -> Self {
        Self {
            inner,
            state: Arc::default(),
        }
    }

    /// Starts counting anew, with other faults. A killed disk stays killed.
    pub fn set(&self, faults: Faults) {
        let mut state = self.state();
        state.faults = faults;
        state.calls.clear();
    }

    /// How many calls were counted.
    pub fn calls(&self) -> u64 {
        self.state().calls.len() as u64
    }

    /// The calls that were counted.
    pub fn trace(&self) -> Vec<Call> {
        self.state().calls.clone()
    }

    /// Whether it was killed.
    pub fn is_killed(&self) -> bool {
        self.state().killed
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn check(&self, call: Call) -> io::Result<()> {
        self.state().check(call)
    }
}

fn broken(what: &str) -> io::Error {
    io::Error::other(format!("a test made this fail: {what}"))
}

impl State {
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
        let fails = self.faults.fail_call == Some(n) || self.faults.fail_from.is_some_and(|from| n >= from);
        if fails { Err(broken("this call")) } else { Ok(()) }
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
        let file = self.inner.open(path)?;
        Ok(Box::new(FaultyFile {
            inner: file,
            disk: self.clone(),
        }))
    }

    fn create(&self, path: &Path) -> io::Result<Box<dyn DiskFile>> {
        self.check(Call::Create)?;
        let file = self.inner.create(path)?;
        Ok(Box::new(FaultyFile {
            inner: file,
            disk: self.clone(),
        }))
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.check(Call::Rename)?;
        self.inner.rename(from, to)
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
    disk: FaultyDisk,
}

impl DiskFile for FaultyFile {
    fn len(&self) -> io::Result<u64> {
        self.disk.check(Call::Read)?;
        self.inner.len()
    }

    fn read_at(&self, offset: u64, buf: &mut [u8]) -> io::Result<usize> {
        self.disk.check(Call::Read)?;
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
