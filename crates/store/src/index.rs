//! The index: what is derived from the journal, kept in sled so that it need not be derived at every start.
//!
//! Nothing here is the only copy of anything. When the index is broken, of another schema, of another journal, or possibly
//! torn by a power cut, it is set aside or dropped and [`Index::open`] returns an empty one; the caller then applies the
//! journal from [`Index::applied`] on.
//!
//! sled 0.34 panics on many damaged files (measured: one flipped byte, 46 of 60 times), so every call goes
//! through `guard.rs`, and a panic becomes [`IndexError::Broken`]. It also acknowledges a flush before the
//! drive has it, so [`Index::flush`] syncs the file itself and notes how far the index is; after a power cut the index is
//! trusted only if it is exactly as far as that note says (see `folder.rs`).
//!
//! ```text
//! 01                                  what was applied: version byte, then bincode of `Applied`
//! 02 device 32, incarnation 8 (BE)    number of a log, 4 (BE)
//! 03 subject, 00 00, count            places: per place varints of log number, seq, index
//! 04 fact id 32                       one place
//! 05 key                              value, as the caller gave it
//! ```
//!
//! In a subject a byte 00 is written 00 FF, so subjects keep their order and none is a prefix of another. The postings of one
//! batch for one subject are one value under the count of that batch: a bulk load writes far fewer keys than postings, each
//! at the end of its subject.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};

use gladhand_facts::{Place, VersionVector};

use crate::journal::Journal;
use crate::record::Position;

mod applied;
mod batch;
mod error;
mod folder;
mod guard;
mod keys;
mod query;
mod reader;

use applied::Applied;
pub use batch::IndexBatch;
pub use error::IndexError;
use folder::Folder;
pub use folder::FreshWhy;
use guard::Guarded;
use keys::LogNumbers;
pub use query::{Subjects, Values};
use reader::{Bounds, Readers};

/// How far an opened index is, compared with the journal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum IndexState {
    /// Empty: apply the whole journal.
    Fresh(FreshWhy),
    /// Complete up to [`Index::applied`]: apply the rest.
    Behind,
    /// Complete up to the end of the journal.
    Current,
}

/// How many indexes this process has begun.
static EDITIONS: AtomicU64 = AtomicU64::new(0);

/// The derived index of one home.
#[derive(Debug)]
pub struct Index {
    /// `None`: only for reading.
    folder: Option<Folder>,
    db: Guarded,
    numbers: LogNumbers,
    applied: Applied,
    /// Its number among all that this process has begun.
    edition: u64,
    readers: Readers,
    /// The moment of a reader.
    bounds: Option<Bounds>,
}

impl Index {
    /// Opens the index in `dir`, or begins one, and returns how far it is compared with `journal`.
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
                let index = Self::whole(folder, db, numbers, applied);
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
                let index = Self::whole(folder, db, LogNumbers::default(), Applied::nothing(schema));
                Ok((index, IndexState::Fresh(why)))
            }
        }
    }

    fn whole(folder: Folder, db: Guarded, numbers: LogNumbers, applied: Applied) -> Self {
        Self {
            folder: Some(folder),
            db,
            numbers,
            applied,
            edition: EDITIONS.fetch_add(1, Ordering::Relaxed),
            readers: Readers::default(),
            bounds: None,
        }
    }

    /// The index as it is now, to read from it while this one is written: of the entries up to `upto`. Closing and emptying this
    /// one makes a reader fail sooner or later; it never gives another answer.
    pub fn reader(&self, upto: VersionVector) -> Self {
        Self {
            folder: None,
            db: self.db.shared(),
            numbers: self.numbers.clone(),
            applied: self.applied,
            edition: self.edition,
            readers: Readers::default(),
            bounds: Some(self.readers.bounds(upto)),
        }
    }

    /// Another number than before says that it was emptied, or another one was opened, meanwhile.
    pub fn edition(&self) -> u64 {
        self.edition
    }

    fn folder(&mut self) -> Result<&mut Folder, IndexError> {
        self.folder.as_mut().ok_or(IndexError::Reader)
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
        match Applied::read(&db).and_then(|applied| Ok((applied, LogNumbers::load(&db)?))) {
            Ok((None, _)) => Err(NotUsable::Stale(FreshWhy::New)),
            Ok((Some(applied), numbers)) => match why_stale(&applied, folder, journal, schema) {
                Some(why) => Err(NotUsable::Stale(why)),
                None => Ok((db, numbers, applied)),
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

    /// Applies a batch: all of it or nothing, even if the process is killed meanwhile.
    pub fn apply(&mut self, batch: IndexBatch) -> Result<(), IndexError> {
        self.folder()?;
        self.leave_with_readers(&batch)?;
        self.readers.note_batch();
        let applied = Applied {
            schema: self.applied.schema,
            upto: batch.upto,
            fingerprint: batch.fingerprint,
            count: self.applied.count + 1,
        };
        let mut writes = sled::Batch::default();
        writes.insert(keys::APPLIED, applied.to_bytes(&self.db)?);
        let known_logs = self.numbers.len();
        for (subject, places) in group(batch.postings) {
            let encoded = self.numbers.encode(&places, &mut writes);
            writes.insert(keys::posting(&subject, applied.count), encoded);
        }
        for (fact, place) in batch.facts {
            let encoded = self.numbers.encode(&[place], &mut writes);
            writes.insert(keys::fact(&fact), encoded);
        }
        for (key, value) in batch.values {
            match value {
                Some(value) => writes.insert(keys::value(&key), value),
                None => writes.remove(keys::value(&key)),
            }
        }
        if let Err(error) = self.db.call(|db| db.apply_batch(writes)) {
            self.numbers.forget_after(known_logs);
            return Err(error);
        }
        self.applied = applied;
        Ok(())
    }

    /// Leaves with those who read the index what the batch is about to replace.
    fn leave_with_readers(&self, batch: &IndexBatch) -> Result<(), IndexError> {
        if !self.readers.are_alive() {
            return Ok(());
        }
        let mut before = reader::Values::new();
        for (key, _) in &batch.values {
            let key = keys::value(key);
            let value = self.db.call(|db| db.get(&key))?.map(|value| value.to_vec());
            before.insert(key, value);
        }
        self.readers.leave(&before);
        Ok(())
    }

    /// Makes everything applied so far durable. Call it at the end of a command, and from time to time in a daemon.
    pub fn flush(&mut self) -> Result<(), IndexError> {
        let count = self.applied.count;
        self.folder()?;
        self.db.call(|db| db.flush().map(drop))?;
        self.folder()?.note_synced(count)
    }

    /// Lets go of the database's files and memory until it is asked again, which takes some milliseconds more then. To be
    /// called when nothing was asked for a while.
    pub fn rest(&mut self) -> Result<(), IndexError> {
        self.flush()?;
        self.db.rest();
        Ok(())
    }

    /// Flushes and closes it. Dropping it closes it too, without reporting a failure.
    pub fn close(mut self) -> Result<(), IndexError> {
        self.flush()
    }

    /// Empties the index. A broken one is kept as evidence.
    pub fn clear(&mut self) -> Result<(), IndexError> {
        let is_broken = self.db.is_broken();
        let folder = self.folder()?;
        if is_broken {
            folder.set_aside();
        }
        let db = folder.begin()?;
        folder.remove_old();
        self.db = db;
        self.edition = EDITIONS.fetch_add(1, Ordering::Relaxed);
        self.readers = Readers::default();
        self.numbers = LogNumbers::default();
        self.applied = Applied::nothing(self.applied.schema);
        Ok(())
    }
}

impl Drop for Index {
    /// Notes the checksum of the closed files, so that the next open can tell whether they changed. Without the note, as after a
    /// kill, damage may go unnoticed; so a failure to write it is ignored.
    fn drop(&mut self) {
        let was_last = self.db.close();
        if let Some(folder) = self.folder.as_ref().filter(|_| was_last) {
            folder.note_clean().ok();
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

fn why_stale(applied: &Applied, folder: &Folder, journal: &Journal, schema: u32) -> Option<FreshWhy> {
    if applied.schema != schema {
        return Some(FreshWhy::OtherSchema);
    }
    if !folder.is_trusted(applied.count) {
        return Some(FreshWhy::PowerCut);
    }
    let is_ours = journal.fingerprint(applied.upto) == Some(applied.fingerprint);
    (!is_ours).then_some(FreshWhy::OtherJournal)
}

/// Postings by subject, in the order of the subjects: sled is faster with sorted keys.
fn group(postings: Vec<(Vec<u8>, Place)>) -> BTreeMap<Vec<u8>, Vec<Place>> {
    let mut groups: BTreeMap<Vec<u8>, Vec<Place>> = BTreeMap::new();
    for (subject, place) in postings {
        groups.entry(subject).or_default().push(place);
    }
    groups
}

#[cfg(test)]
#[path = "index_tests.rs"]
mod tests;
