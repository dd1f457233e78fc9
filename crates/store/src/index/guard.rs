//! sled behind a guard: its panics become errors, and after one it is never used again.
//!
//! sled's caches outgrow what they are told, so a database that nobody asks for a while is closed ([`Guarded::rest`]) and opened again
//! by whoever asks next. Its eight threads stay, and each wakes up once a second: they belong to the process, and nothing ends them.

use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use super::error::IndexError;

/// Laptops have little memory to spare, and the kernel caches the file too.
const CACHE_BYTES: u64 = 16 << 20;

#[derive(Debug)]
pub(super) struct Guarded {
    shared: Arc<Shared>,
    is_closed: bool,
}

/// What all who use a database share.
#[derive(Debug)]
struct Shared {
    dir: PathBuf,
    /// `None` while it rests; whoever asks opens it again.
    db: Mutex<Option<sled::Db>>,
    broken: AtomicBool,
}

impl Guarded {
    pub(super) fn open(dir: &Path) -> Result<Self, IndexError> {
        let shared = Shared {
            dir: dir.to_path_buf(),
            db: Mutex::new(Some(open(dir)?)),
            broken: AtomicBool::new(false),
        };
        Ok(Self {
            shared: Arc::new(shared),
            is_closed: false,
        })
    }

    /// The same database for another user. It stays open until the last of them closes it.
    pub(super) fn shared(&self) -> Self {
        Self {
            shared: Arc::clone(&self.shared),
            is_closed: false,
        }
    }

    pub(super) fn call<T>(&self, act: impl FnOnce(&sled::Db) -> sled::Result<T>) -> Result<T, IndexError> {
        if self.is_closed || self.is_broken() {
            return Err(self.broken("it broke before"));
        }
        let result = self
            .shared
            .at_hand()
            .and_then(|db| caught(&self.shared.dir, || act(&db)));
        if matches!(result, Err(IndexError::Broken { .. })) {
            self.shared.broken.store(true, Ordering::Relaxed);
        }
        result
    }

    pub(super) fn is_broken(&self) -> bool {
        self.shared.broken.load(Ordering::Relaxed)
    }

    /// The error for a database whose content is wrong. Nothing is read from it again.
    pub(super) fn broken(&self, why: &str) -> IndexError {
        self.shared.broken.store(true, Ordering::Relaxed);
        IndexError::Broken {
            dir: self.shared.dir.clone(),
            why: why.to_owned(),
        }
    }

    /// What is to be written cannot be encoded; the database is not to blame.
    pub(super) fn cannot_encode(&self, why: String) -> IndexError {
        let dir = self.shared.dir.clone();
        IndexError::Encode { dir, why }
    }

    /// Gives up a database that cannot be read.
    pub(super) fn abandon(self) {
        self.shared.broken.store(true, Ordering::Relaxed);
    }

    /// Lets go of the open files and the memory of the database until somebody asks.
    pub(super) fn rest(&self) {
        if !self.is_broken() {
            self.shared.let_go();
        }
    }

    /// Closes the database; returns whether that succeeded and nobody else uses it.
    pub(super) fn close(&mut self) -> bool {
        let was_open = !std::mem::replace(&mut self.is_closed, true);
        let is_last = Arc::strong_count(&self.shared) == 1;
        was_open && is_last && self.shared.let_go()
    }
}

impl Shared {
    /// The database, opened again if it rested.
    fn at_hand(&self) -> Result<sled::Db, IndexError> {
        let mut db = self.db.lock().unwrap_or_else(PoisonError::into_inner);
        match db.as_ref() {
            Some(db) => Ok(db.clone()),
            None => Ok(db.insert(open(&self.dir)?).clone()),
        }
    }

    /// Returns whether the database was closed in order, as far as that is up to this call.
    fn let_go(&self) -> bool {
        let db = self.db.lock().unwrap_or_else(PoisonError::into_inner).take();
        if self.broken.load(Ordering::Relaxed) {
            // Closing writes, and after a panic inside sled it is unknown what. It costs memory that is never freed.
            std::mem::forget(db);
            return false;
        }
        catch_unwind(AssertUnwindSafe(|| drop(db))).is_ok()
    }
}

impl Drop for Guarded {
    fn drop(&mut self) {
        self.close();
    }
}

impl Drop for Shared {
    fn drop(&mut self) {
        self.let_go();
    }
}

fn open(dir: &Path) -> Result<sled::Db, IndexError> {
    let config = sled::Config::new()
        .path(dir)
        .cache_capacity(CACHE_BYTES)
        .mode(sled::Mode::HighThroughput)
        .flush_every_ms(None);
    caught(dir, || open_patiently(&config))
}

/// The home's lock keeps other processes out. If the database is still locked, a child process that was being started
/// when it was closed still shares the open file, for a moment.
fn open_patiently(config: &sled::Config) -> sled::Result<sled::Db> {
    let mut opened = config.open();
    for _ in 0..20 {
        match &opened {
            Err(sled::Error::Io(error)) if is_locked(error) => {
                std::thread::sleep(Duration::from_millis(10));
                opened = config.open();
            }
            _ => break,
        }
    }
    opened
}

/// sled has no kind of its own for a database that is open elsewhere.
fn is_locked(error: &io::Error) -> bool {
    error.to_string().contains("could not acquire lock")
}

fn caught<T>(dir: &Path, act: impl FnOnce() -> sled::Result<T>) -> Result<T, IndexError> {
    let dir = dir.to_path_buf();
    match catch_unwind(AssertUnwindSafe(act)) {
        Ok(Ok(value)) => Ok(value),
        Ok(Err(sled::Error::Io(source))) if blames_the_system(&source) => Err(IndexError::Io { dir, source }),
        Ok(Err(error)) => Err(IndexError::Broken {
            dir,
            why: error.to_string(),
        }),
        Err(panic) => Err(IndexError::Broken {
            dir,
            why: panic_text(panic.as_ref()),
        }),
    }
}

/// Errors that an empty database at the same place would have too.
fn blames_the_system(error: &io::Error) -> bool {
    use io::ErrorKind as K;
    let kinds = [
        K::StorageFull,
        K::QuotaExceeded,
        K::PermissionDenied,
        K::ReadOnlyFilesystem,
        K::OutOfMemory,
        K::NotADirectory,
    ];
    kinds.contains(&error.kind()) || is_locked(error)
}

fn panic_text(panic: &(dyn std::any::Any + Send)) -> String {
    let text = panic.downcast_ref::<String>().map(String::as_str);
    let text = text.or_else(|| panic.downcast_ref::<&str>().copied());
    format!("sled panicked: {}", text.unwrap_or("without a word"))
}
