//! sled behind a guard: its panics become errors, and after one it is never used again.

use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use super::error::IndexError;

/// Laptops have little memory to spare, and the kernel caches the file too.
const CACHE_BYTES: u64 = 16 << 20;

#[derive(Debug)]
pub(super) struct Guarded {
    dir: PathBuf,
    /// Only taken when it is closed.
    db: Option<sled::Db>,
    /// Shared by all who use the database.
    broken: Arc<AtomicBool>,
}

impl Guarded {
    pub(super) fn open(dir: &Path) -> Result<Self, IndexError> {
        let config = sled::Config::new()
            .path(dir)
            .cache_capacity(CACHE_BYTES)
            .mode(sled::Mode::HighThroughput)
            .flush_every_ms(None);
        let db = caught(dir, || open_patiently(&config))?;
        Ok(Self {
            dir: dir.to_path_buf(),
            db: Some(db),
            broken: Arc::default(),
        })
    }

    /// The same database for another user. It stays open until the last of them closes it.
    pub(super) fn shared(&self) -> Self {
        Self {
            dir: self.dir.clone(),
            db: self.db.clone(),
            broken: Arc::clone(&self.broken),
        }
    }

    pub(super) fn call<T>(&self, act: impl FnOnce(&sled::Db) -> sled::Result<T>) -> Result<T, IndexError> {
        let Some(db) = self.db.as_ref().filter(|_| !self.is_broken()) else {
            return Err(self.broken("it broke before"));
        };
        let result = caught(&self.dir, || act(db));
        if matches!(result, Err(IndexError::Broken { .. })) {
            self.broken.store(true, Ordering::Relaxed);
        }
        result
    }

    pub(super) fn is_broken(&self) -> bool {
        self.broken.load(Ordering::Relaxed)
    }

    /// The error for a database whose content is wrong. Nothing is read from it again.
    pub(super) fn broken(&self, why: &str) -> IndexError {
        self.broken.store(true, Ordering::Relaxed);
        IndexError::Broken {
            dir: self.dir.clone(),
            why: why.to_owned(),
        }
    }

    /// What is to be written cannot be encoded; the database is not to blame.
    pub(super) fn cannot_encode(&self, why: String) -> IndexError {
        let dir = self.dir.clone();
        IndexError::Encode { dir, why }
    }

    /// Gives up a database that cannot be read.
    pub(super) fn abandon(self) {
        self.broken.store(true, Ordering::Relaxed);
    }
}

impl Guarded {
    /// Closes the database; returns whether that succeeded and nobody else uses it.
    pub(super) fn close(&mut self) -> bool {
        let Some(db) = self.db.take() else { return false };
        if self.is_broken() {
            // Closing writes, and after a panic inside sled it is unknown what. It costs memory that is never freed.
            std::mem::forget(db);
            return false;
        }
        let is_last = Arc::strong_count(&self.broken) == 1;
        catch_unwind(AssertUnwindSafe(|| drop(db))).is_ok() && is_last
    }
}

impl Drop for Guarded {
    fn drop(&mut self) {
        self.close();
    }
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
