//! Reading the index as it was at one moment, while it is written on.
//!
//! Postings and facts only ever get more, so a reader leaves out the places beyond its version vector. Values are replaced and
//! removed; whoever writes them first leaves what was there before with each reader that is alive.
//!
//! Deliberately absent: a copy. A reader costs what changes while it is in use.
//!
//! Invariant: a reader looks at what was left with it after it has read the database, so that it cannot miss a change in between.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError, Weak};

use gladhand_facts::{Place, VersionVector};

/// Keys of values as they are in the database, with what was there; `None`: nothing.
pub(super) type Values = BTreeMap<Vec<u8>, Option<Vec<u8>>>;

/// What a reader must know of the changes since it was made.
#[derive(Debug, Default)]
struct Left(Mutex<Values>);

/// The readers of an index, as its writer sees them.
#[derive(Debug, Default)]
pub(super) struct Readers {
    alive: Mutex<Vec<Weak<Left>>>,
    /// How many batches were applied.
    applied: Arc<AtomicU64>,
}

/// The moment of one reader.
#[derive(Debug, Clone)]
pub(super) struct Bounds {
    upto: VersionVector,
    left: Arc<Left>,
    applied: Arc<AtomicU64>,
    made_at: u64,
}

impl Readers {
    /// The moment that is now.
    pub(super) fn bounds(&self, upto: VersionVector) -> Bounds {
        let left = Arc::new(Left::default());
        let mut alive = self.alive.lock().unwrap_or_else(PoisonError::into_inner);
        alive.retain(|reader| reader.strong_count() > 0);
        alive.push(Arc::downgrade(&left));
        Bounds {
            upto,
            left,
            applied: Arc::clone(&self.applied),
            made_at: self.applied.load(Ordering::Acquire),
        }
    }

    /// Whether anybody must be told of changes.
    pub(super) fn are_alive(&self) -> bool {
        let alive = self.alive.lock().unwrap_or_else(PoisonError::into_inner);
        alive.iter().any(|reader| reader.strong_count() > 0)
    }

    /// Leaves with each reader what is about to be changed. To be called before the change.
    pub(super) fn leave(&self, before: &Values) {
        let alive = self.alive.lock().unwrap_or_else(PoisonError::into_inner);
        for reader in alive.iter().filter_map(Weak::upgrade) {
            let mut left = reader.0.lock().unwrap_or_else(PoisonError::into_inner);
            for (key, value) in before {
                left.entry(key.clone()).or_insert_with(|| value.clone());
            }
        }
    }

    /// Notes that a batch is about to be applied.
    pub(super) fn note_batch(&self) {
        self.applied.fetch_add(1, Ordering::AcqRel);
    }
}

impl Bounds {
    /// Whether nothing was written since.
    pub(super) fn is_current(&self) -> bool {
        self.applied.load(Ordering::Acquire) == self.made_at
    }

    /// Whether a place was there.
    pub(super) fn includes(&self, place: &Place) -> bool {
        self.upto.includes(&place.log, place.seq)
    }

    /// A value as it was: `now` is what was read of it.
    pub(super) fn value(&self, key: &[u8], now: Option<Vec<u8>>) -> Option<Vec<u8>> {
        let left = self.left.0.lock().unwrap_or_else(PoisonError::into_inner);
        left.get(key).map_or(now, Clone::clone)
    }

    /// Rows as they were: `now` are those that were read of keys beginning with `prefix`.
    pub(super) fn rows(&self, prefix: &[u8], mut now: BTreeMap<Vec<u8>, Vec<u8>>) -> BTreeMap<Vec<u8>, Vec<u8>> {
        let left = self.left.0.lock().unwrap_or_else(PoisonError::into_inner);
        let changed = left
            .range(prefix.to_vec()..)
            .take_while(|(key, _)| key.starts_with(prefix));
        for (key, value) in changed {
            match value {
                Some(value) => now.insert(key.clone(), value.clone()),
                None => now.remove(key),
            };
        }
        now
    }
}
