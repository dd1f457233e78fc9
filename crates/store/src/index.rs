//! The index: what can be derived from the journal, kept in sled so that it need not be derived each time.
//!
//! Nothing here is the only copy of anything. Whenever the index is broken, of another schema, of another
//! journal, or possibly torn by a power cut, it is set aside or dropped and [`Index::open`] returns a fresh
//! one; the caller then feeds it the journal from [`Index::applied`] on.
//!
//! sled 0.34 panics on many damaged files (measured: one flipped byte, 46 of 60 times), so every call goes
//! through `guard.rs`, and a panic becomes [`IndexError::Broken`]. It also acknowledges a flush before the
//! drive has it, so [`Index::flush`] syncs the file itself and notes how far; after a power cut the index is
//! trusted only when it stands exactly there (see `folder.rs`).
//!
//! ```text
//! 01                                  what was applied: version byte, then bincode of `Applied`
//! 02 device 32, incarnation 8 (BE)    number of a log, 4 (BE)
//! 03 subject, 00 00, count            places: per place varints of log number, seq, index
//! 04 fact id 32                       one place
//! 05 key                              value, as the caller gave it
//! ```
//!
//! In a subject a byte 00 is written 00 FF, so subjects keep their order and none is the beginning of
//! another. The postings of one batch for one subject are one value under the count of that batch: a bulk
//! load writes far fewer keys than postings, each at the end of its subject.

use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};

use gladhand_facts::{FactId, Place};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use crate::journal::Journal;
use crate::record::Position;

mod folder;
mod guard;
mod keys;
mod query;

use folder::Folder;
pub use folder::FreshWhy;
use guard::Guarded;
use keys::LogNumbers;
pub use query::{Subjects, Values};

/// Layout of what this crate writes. Another one means: derive anew.
const LAYOUT: u8 = 1;

/// What went wrong with the index.
#[derive(Debug, thiserror::Error)]
pub enum IndexError {
    /// It cannot be used any more: [`Index::clear`] it and feed it the journal again.
    #[error("the index in {dir} is broken and has to be derived anew: {why}")]
    Broken {
        /// Its folder.
        dir: PathBuf,
        /// What was seen.
        why: String,
    },
    /// The disk refused; the index itself is not to blame.
    #[error("cannot use the index in {dir}: {source}")]
    Io {
        /// Its folder.
        dir: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

/// How an opened index stands to the journal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum IndexState {
    /// Empty: feed it the whole journal.
    Fresh(FreshWhy),
    /// Good up to [`Index::applied`]: feed it the rest.
    Behind,
    /// Good up to the end of the journal.
    Current,
}

/// What one call to [`Index::apply`] changes, all of it or nothing.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct IndexBatch {
    /// Where a subject is spoken of. The same posting twice counts once.
    pub postings: Vec<(Vec<u8>, Place)>,
    /// Where the facts of this device are.
    pub own_facts: Vec<(FactId, Place)>,
    /// Values to set, or with `None` to remove; of two for one key the later counts.
    pub values: Vec<(Vec<u8>, Option<Vec<u8>>)>,
    /// The position in the journal that is included then.
    pub upto: Position,
    /// [`Journal::fingerprint`] of `upto`.
    pub fingerprint: u64,
}

impl IndexBatch {
    /// An empty batch that ends at `upto`.
    pub fn new(upto: Position, fingerprint: u64) -> Self {
        Self {
            upto,
            fingerprint,
            ..Self::default()
        }
    }
}

/// What is stored of how far the index is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
struct Applied {
    /// The caller's schema.
    schema: u32,
    upto: Position,
    fingerprint: u64,
    /// How many batches were applied in its life.
    count: u64,
}

/// The derived index of one home.
#[derive(Debug)]
pub struct Index {
    folder: Folder,
    db: Guarded,
    numbers: LogNumbers,
    applied: Applied,
}

impl Index {
    /// Opens the index in `dir`, or begins one, and says how it stands to `journal`.
    ///
    /// `schema` names the layout and meaning of what the caller stores; another one means: derive anew.
    /// A broken index is moved to `evidence_dir`, where the newest two are kept.
    pub fn open(
        dir: &Path,
        evidence_dir: &Path,
        journal: &Journal,
        schema: u32,
    ) -> Result<(Self, IndexState), IndexError> {
        let mut folder = Folder::open(dir, evidence_dir)?;
        let opened = Self::open_newest(&mut folder, journal, schema);
        match opened {
            Ok((db, numbers, applied)) => {
                let index = Self {
                    folder,
                    db,
                    numbers,
                    applied,
                };
                let state = if applied.upto == journal.end() {
                    IndexState::Current
                } else {
                    IndexState::Behind
                };
                Ok((index, state))
            }
            Err(NotUsable::Refused(error)) => Err(error),
            Err(NotUsable::Stale(why)) => {
                let db = folder.begin()?;
                let fresh = Applied {
                    schema,
                    ..Applied::default()
                };
                let index = Self {
                    folder,
                    db,
                    numbers: LogNumbers::default(),
                    applied: fresh,
                };
                Ok((index, IndexState::Fresh(why)))
            }
        }
    }

    fn open_newest(
        folder: &mut Folder,
        journal: &Journal,
        schema: u32,
    ) -> Result<(Guarded, LogNumbers, Applied), NotUsable> {
        let db = match folder.open_newest() {
            Ok(Some(db)) => db,
            Ok(None) => return Err(NotUsable::Stale(FreshWhy::New)),
            Err(error) => return Err(not_usable(folder, error)),
        };
        match read_applied(&db).and_then(|applied| Ok((applied, LogNumbers::load(&db)?))) {
            Ok((applied, numbers)) => match why_stale(applied.as_ref(), folder, journal, schema) {
                Some(why) => Err(NotUsable::Stale(why)),
                None => Ok((db, numbers, applied.unwrap_or_default())),
            },
            Err(error) => {
                db.abandon();
                Err(not_usable(folder, error))
            }
        }
    }

    /// The position in the journal up to which everything is in the index.
    pub fn applied(&self) -> Position {
        self.applied.upto
    }

    /// Applies a batch: all of it or nothing, also through a kill.
    pub fn apply(&mut self, batch: IndexBatch) -> Result<(), IndexError> {
        let applied = Applied {
            schema: self.applied.schema,
            upto: batch.upto,
            fingerprint: batch.fingerprint,
            count: self.applied.count + 1,
        };
        let mut writes = sled::Batch::default();
        let new_logs = self.numbers.add(&batch, &mut writes);
        for (subject, places) in group(batch.postings) {
            writes.insert(keys::posting(&subject, applied.count), self.numbers.encode(&places));
        }
        for (fact, place) in batch.own_facts {
            writes.insert(keys::own_fact(&fact), self.numbers.encode(&[place]));
        }
        for (key, value) in batch.values {
            match value {
                Some(value) => writes.insert(keys::value(&key), value),
                None => writes.remove(keys::value(&key)),
            }
        }
        writes.insert(keys::APPLIED, encode_value(LAYOUT, &applied));
        if let Err(error) = self.db.call(|db| db.apply_batch(writes)) {
            self.numbers.take_back(new_logs);
            return Err(error);
        }
        self.applied = applied;
        Ok(())
    }

    /// Makes everything applied so far durable. Call it at the end of a command and now and then in a daemon.
    pub fn flush(&mut self) -> Result<(), IndexError> {
        self.db.call(|db| db.flush().map(drop))?;
        self.folder.note_synced(self.applied.count)
    }

    /// Flushes and closes it. Dropping it closes it as well, and says nothing of a failure.
    pub fn close(mut self) -> Result<(), IndexError> {
        self.flush()
    }

    /// Empties the index, broken or not: afterwards it is fresh. A broken one is kept as evidence.
    pub fn clear(&mut self) -> Result<(), IndexError> {
        if self.db.is_broken() {
            self.folder.set_aside();
        }
        self.db = self.folder.begin()?;
        self.folder.remove_old();
        self.numbers = LogNumbers::default();
        self.applied = Applied {
            schema: self.applied.schema,
            ..Applied::default()
        };
        Ok(())
    }
}

impl Drop for Index {
    /// Notes what the closed files hold, so that the next open can tell whether they still do. Without the
    /// note, as after a kill, it is only less sure.
    fn drop(&mut self) {
        if self.db.close() {
            self.folder.note_clean().ok();
        }
    }
}

/// Why the newest database is not used.
enum NotUsable {
    Stale(FreshWhy),
    Refused(IndexError),
}

/// Moves a broken database away; what is no fault of the database is passed on.
fn not_usable(folder: &mut Folder, error: IndexError) -> NotUsable {
    match error {
        IndexError::Broken { why, .. } => NotUsable::Stale(FreshWhy::Broken {
            why,
            aside: folder.set_aside(),
        }),
        other => NotUsable::Refused(other),
    }
}

fn why_stale(applied: Option<&Applied>, folder: &Folder, journal: &Journal, schema: u32) -> Option<FreshWhy> {
    let Some(applied) = applied else {
        return Some(FreshWhy::New);
    };
    if applied.schema != schema {
        return Some(FreshWhy::OtherSchema);
    }
    if !folder.is_trusted(applied.count) {
        return Some(FreshWhy::PowerCut);
    }
    let is_ours = journal.fingerprint(applied.upto) == Some(applied.fingerprint);
    (!is_ours).then_some(FreshWhy::OtherJournal)
}

/// How far a database is; `None` when nothing was ever applied to it.
fn read_applied(db: &Guarded) -> Result<Option<Applied>, IndexError> {
    let Some(bytes) = db.call(|db| db.get(keys::APPLIED))? else {
        return Ok(None);
    };
    if bytes.first() != Some(&LAYOUT) {
        // No schema of any caller: stale, not broken.
        return Ok(Some(Applied {
            schema: u32::MAX,
            ..Applied::default()
        }));
    }
    decode_value(LAYOUT, &bytes)
        .map(Some)
        .ok_or_else(|| db.broken("what was applied does not decode"))
}

/// Postings by subject, in the order of the subjects: sled likes its keys sorted.
fn group(postings: Vec<(Vec<u8>, Place)>) -> BTreeMap<Vec<u8>, Vec<Place>> {
    let mut groups: BTreeMap<Vec<u8>, Vec<Place>> = BTreeMap::new();
    for (subject, place) in postings {
        groups.entry(subject).or_default().push(place);
    }
    groups
}

/// A structured value as bytes: a version byte, then bincode.
pub fn encode_value<T: Serialize>(version: u8, value: &T) -> Vec<u8> {
    let mut bytes = vec![version];
    // Fails only for types that bincode cannot write at all; such a value never decodes, which its reader sees.
    if let Ok(encoded) = bincode::serde::encode_to_vec(value, bincode::config::standard()) {
        bytes.extend(encoded);
    }
    bytes
}

/// What [`encode_value`] wrote with the same version. `None` means: derive it anew.
pub fn decode_value<T: DeserializeOwned>(version: u8, bytes: &[u8]) -> Option<T> {
    let (found, rest) = bytes.split_first()?;
    let (value, used) = bincode::serde::decode_from_slice(rest, bincode::config::standard()).ok()?;
    (*found == version && used == rest.len()).then_some(value)
}

#[cfg(test)]
#[path = "index_tests.rs"]
mod tests;
