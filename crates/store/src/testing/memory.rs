//! A disk in memory that keeps what is live and what is durable apart.
//!
//! Files are changed live. [`DiskFile::sync`] makes a file's bytes durable, [`Disk::sync_dir`] the names in
//! a folder. [`MemoryDisk::after`] is the disk that a machine finds when it starts again.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crate::disk::{Disk, DiskFile, FilePlace};

/// What happens to bytes and names that were not synced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Crash {
    /// The process was killed: the system still has everything.
    Process,
    /// The power went, and nothing that was not synced was written.
    PowerKeepsNothing,
    /// The power went, and of what was not synced some blocks of 512 bytes, lengths and names were written.
    /// The number decides which.
    PowerKeepsSome(u64),
}

#[derive(Debug, Default)]
struct Bytes {
    live: Vec<u8>,
    durable: Vec<u8>,
}

type Shared = Arc<Mutex<Bytes>>;

#[derive(Debug, Default)]
struct Tree {
    live: BTreeMap<PathBuf, Shared>,
    durable: BTreeMap<PathBuf, Shared>,
    dirs: BTreeSet<PathBuf>,
    free: u64,
    salts: u64,
}

/// See the module doc. Clones share the same disk.
#[derive(Debug, Clone)]
pub struct MemoryDisk(Arc<Mutex<Tree>>);

impl Default for MemoryDisk {
    fn default() -> Self {
        Self(Arc::new(Mutex::new(Tree {
            free: 1 << 40,
            ..Tree::default()
        })))
    }
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

fn not_found() -> io::Error {
    io::ErrorKind::NotFound.into()
}

impl MemoryDisk {
    /// An empty disk.
    pub fn new() -> Self {
        Self::default()
    }

    /// Sets how many bytes are reported as free; writes do not use them up.
    pub fn set_free_bytes(&self, free: u64) {
        lock(&self.0).free = free;
    }

    /// The disk that is found after a crash. This one is not changed.
    pub fn after(&self, crash: Crash) -> Self {
        let tree = lock(&self.0);
        let mut rng = SeededRng::new(crash);
        let mut next = Tree {
            dirs: tree.dirs.clone(),
            free: tree.free,
            salts: tree.salts + 1000,
            ..Tree::default()
        };
        let paths: BTreeSet<&PathBuf> = tree.live.keys().chain(tree.durable.keys()).collect();
        for path in paths {
            let (live, durable) = (tree.live.get(path), tree.durable.get(path));
            let same = matches!((live, durable), (Some(a), Some(b)) if Arc::ptr_eq(a, b));
            if let Some(file) = if same || rng.keeps() { live } else { durable } {
                let bytes = rng.survivors(&lock(file));
                let file = Arc::new(Mutex::new(Bytes {
                    live: bytes.clone(),
                    durable: bytes,
                }));
                next.live.insert(path.clone(), Arc::clone(&file));
                next.durable.insert(path.clone(), file);
            }
        }
        Self(Arc::new(Mutex::new(next)))
    }

    /// A copy of this disk as the system sees it, with everything below `from` below `to` instead.
    pub fn moved(&self, from: &Path, to: &Path) -> Self {
        let copy = self.after(Crash::Process);
        let moved = |path: &PathBuf| {
            path.strip_prefix(from)
                .map_or_else(|_| path.clone(), |rest| to.join(rest))
        };
        let mut tree = lock(&copy.0);
        tree.salts += 1000;
        tree.dirs = tree.dirs.iter().map(moved).collect();
        let live: BTreeMap<PathBuf, Shared> = tree
            .live
            .iter()
            .map(|(path, file)| (moved(path), Arc::clone(file)))
            .collect();
        (tree.durable, tree.live) = (live.clone(), live);
        drop(tree);
        copy
    }

    /// The live bytes of a file.
    pub fn bytes(&self, path: &Path) -> Option<Vec<u8>> {
        let file = Arc::clone(lock(&self.0).live.get(path)?);
        let bytes = lock(&file).live.clone();
        Some(bytes)
    }

    /// Puts a file on the disk as if it had always been there; `None` takes one away.
    pub fn put(&self, path: &Path, bytes: Option<Vec<u8>>) {
        let mut tree = lock(&self.0);
        let Some(bytes) = bytes else {
            tree.live.remove(path);
            tree.durable.remove(path);
            return;
        };
        let file = Arc::new(Mutex::new(Bytes {
            live: bytes.clone(),
            durable: bytes,
        }));
        tree.live.insert(path.to_path_buf(), Arc::clone(&file));
        tree.durable.insert(path.to_path_buf(), file);
    }

    /// All files, in order.
    pub fn paths(&self) -> Vec<PathBuf> {
        lock(&self.0).live.keys().cloned().collect()
    }
}

/// Decides what survives. A small generator of its own, so that a failure can be repeated from its number.
struct SeededRng {
    crash: Crash,
    state: u64,
}

impl SeededRng {
    fn new(crash: Crash) -> Self {
        let seed = if let Crash::PowerKeepsSome(seed) = crash {
            seed
        } else {
            0
        };
        Self {
            crash,
            state: seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5851_f42d_4c95_7f2d,
        }
    }

    /// xorshift64*.
    fn next(&mut self) -> u64 {
        self.state ^= self.state >> 12;
        self.state ^= self.state << 25;
        self.state ^= self.state >> 27;
        self.state.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 16
    }

    fn keeps(&mut self) -> bool {
        match self.crash {
            Crash::Process => true,
            Crash::PowerKeepsNothing => false,
            Crash::PowerKeepsSome(_) => self.next().is_multiple_of(2),
        }
    }

    fn survivors(&mut self, bytes: &Bytes) -> Vec<u8> {
        let longer = if self.keeps() { &bytes.live } else { &bytes.durable };
        let mut out = longer.clone();
        for (i, block) in out.chunks_mut(512).enumerate() {
            let kept = if self.keeps() { &bytes.live } else { &bytes.durable };
            let old = kept.get(i * 512..).unwrap_or_default();
            // A length that was written without its bytes leaves zeros.
            block
                .iter_mut()
                .zip(old.iter().copied().chain(std::iter::repeat(0)))
                .for_each(|(b, o)| *b = o);
        }
        out
    }
}

impl Disk for MemoryDisk {
    fn names(&self, dir: &Path) -> io::Result<Vec<String>> {
        let tree = lock(&self.0);
        if !tree.dirs.contains(dir) {
            return Err(not_found());
        }
        let children = tree
            .live
            .keys()
            .chain(&tree.dirs)
            .filter(|path| path.parent() == Some(dir));
        let names: BTreeSet<String> = children
            .filter_map(|path| path.file_name()?.to_str().map(str::to_owned))
            .collect();
        Ok(names.into_iter().collect())
    }

    fn create_dir(&self, dir: &Path) -> io::Result<()> {
        lock(&self.0).dirs.extend(dir.ancestors().map(Path::to_path_buf));
        Ok(())
    }

    fn open(&self, path: &Path) -> io::Result<Box<dyn DiskFile>> {
        let file = lock(&self.0).live.get(path).cloned().ok_or_else(not_found)?;
        Ok(Box::new(MemoryFile(file)))
    }

    fn create(&self, path: &Path) -> io::Result<Box<dyn DiskFile>> {
        let mut tree = lock(&self.0);
        if !path.parent().is_some_and(|dir| tree.dirs.contains(dir)) {
            return Err(not_found());
        }
        if tree.live.contains_key(path) {
            return Err(io::ErrorKind::AlreadyExists.into());
        }
        let file = Shared::default();
        tree.live.insert(path.to_path_buf(), Arc::clone(&file));
        Ok(Box::new(MemoryFile(file)))
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        let mut tree = lock(&self.0);
        let file = tree.live.remove(from).ok_or_else(not_found)?;
        tree.live.insert(to.to_path_buf(), file);
        Ok(())
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        lock(&self.0).live.remove(path).map(drop).ok_or_else(not_found)
    }

    fn sync_dir(&self, dir: &Path) -> io::Result<()> {
        let mut tree = lock(&self.0);
        let live: Vec<_> = tree
            .live
            .iter()
            .filter(|(path, _)| path.parent() == Some(dir))
            .collect();
        let live: Vec<_> = live
            .into_iter()
            .map(|(path, file)| (path.clone(), Arc::clone(file)))
            .collect();
        tree.durable.retain(|path, _| path.parent() != Some(dir));
        tree.durable.extend(live);
        Ok(())
    }

    fn free_bytes(&self, _dir: &Path) -> io::Result<u64> {
        Ok(lock(&self.0).free)
    }

    fn place(&self, path: &Path) -> io::Result<FilePlace> {
        let tree = lock(&self.0);
        let file = tree.live.get(path).ok_or_else(not_found)?;
        Ok(FilePlace {
            device: 1,
            filesystem: 1,
            inode: Arc::as_ptr(file) as usize as u64,
            born_ns: 0,
        })
    }

    fn salt(&self) -> io::Result<u64> {
        let mut tree = lock(&self.0);
        tree.salts += 1;
        Ok(tree.salts.wrapping_mul(0x9e37_79b9_7f4a_7c15))
    }
}

#[derive(Debug)]
struct MemoryFile(Shared);

impl DiskFile for MemoryFile {
    fn len(&self) -> io::Result<u64> {
        Ok(lock(&self.0).live.len() as u64)
    }

    fn read_at(&self, offset: u64, buf: &mut [u8]) -> io::Result<usize> {
        let bytes = lock(&self.0);
        let from = bytes.live.get(usize::try_from(offset).unwrap()..).unwrap_or_default();
        buf.iter_mut().zip(from).for_each(|(slot, byte)| *slot = *byte);
        Ok(from.len().min(buf.len()))
    }

    fn write_at(&self, offset: u64, new: &[u8]) -> io::Result<usize> {
        let mut bytes = lock(&self.0);
        let at = usize::try_from(offset).unwrap();
        let end = at + new.len();
        if bytes.live.len() < end {
            bytes.live.resize(end, 0);
        }
        bytes.live.splice(at..end, new.iter().copied());
        Ok(new.len())
    }

    fn sync(&self) -> io::Result<()> {
        let mut bytes = lock(&self.0);
        bytes.durable = bytes.live.clone();
        Ok(())
    }

    fn truncate(&self, len: u64) -> io::Result<()> {
        lock(&self.0).live.resize(usize::try_from(len).unwrap(), 0);
        Ok(())
    }
}
