//! Bringing the index up to date with the journal: each entry is filed under the subjects that it names.
//!
//! Deliberately one-way: nothing in the index is the source of anything in the journal, so a broken index is thrown away and made
//! anew.
//!
//! Invariants: the index is a function of the journal before [`gladhand_store::Index::applied`]; an entry whose body cannot be
//! read keeps its place in its log and is filed as a problem.

use gladhand_facts::{Fact, Kind, LogId, Place, name_key};
use gladhand_logbook::jobdoc::{self, DocError};
use gladhand_logbook::{Body, Book, Entry};
use gladhand_reconcile::{Class, mentions};
use gladhand_store::{IndexBatch, IndexError, PictureHash, Position, Record, RecordKind};

use crate::clock_trails::clock_notes;
use crate::days::keys_of_times;
use crate::elsewhere::{begin_elsewhere, is_refused};
use crate::error::NodeError;
use crate::index_keys::{ENDED, GOVERNANCE, PROBLEM, doc_key, key_of, listed_key, picture_key};
use crate::node::Node;
use crate::progress::Progress;

/// How many postings are written to the index in one batch.
const POSTINGS_PER_BATCH: usize = 8_192;

/// The facts in an entry, in order.
///
/// # Errors
/// [`DocError`] when the body cannot be read. The entry keeps its place in the chain.
pub fn entry_facts(log: &LogId, body: &Body) -> Result<Vec<Fact>, DocError> {
    match body {
        Body::Change { change, .. } => jobdoc::facts_in(log, change),
        Body::Loose(texts) => {
            let read = |text: &String| Fact::from_stored(&log.device, text);
            texts
                .iter()
                .map(read)
                .collect::<Result<_, _>>()
                .map_err(|e| DocError::Fact(e.to_string()))
        }
        Body::Governance(_) | Body::Unknown { .. } => Ok(Vec::new()),
    }
}

impl Node {
    /// Brings the index up to the journal's end. A broken index is made anew, once.
    pub(crate) fn catch_up(&mut self, progress: &dyn Progress) -> Result<(), NodeError> {
        match self.apply_journal(progress) {
            Err(NodeError::Index(IndexError::Broken { why, .. })) => {
                self.notes.push(format!(
                    "the index was broken ({why}); it was made anew from the journal"
                ));
                self.index.clear()?;
                self.clock_notes = None;
                self.apply_journal(progress)?;
            }
            Err(refused) if is_refused(&refused) => {
                self.take_the_index_elsewhere(refused)?;
                self.apply_journal(progress)?;
            }
            other => other?,
        }
        self.learn_clock_notes()
    }

    /// Goes on with an empty index somewhere else. `why` is what the home's disk said.
    pub(crate) fn take_the_index_elsewhere(&mut self, why: NodeError) -> Result<(), NodeError> {
        if self.elsewhere.is_some() {
            return Err(why);
        }
        let Some(begun) = begin_elsewhere(&self.environment, &self.journal, &why)? else {
            return Err(why);
        };
        self.notes.push(begun.note);
        self.index = begun.index;
        self.clock_notes = None;
        self.elsewhere = Some(begun.elsewhere);
        Ok(())
    }

    fn apply_journal(&mut self, progress: &dyn Progress) -> Result<(), NodeError> {
        if self.index.applied() == self.journal.end() {
            return Ok(());
        }
        let mut named = Vec::new();
        let total = self.book.vector().entries();
        let (mut pending, mut done) = (IndexBatch::default(), 0);
        let mut upto = self.index.applied();
        for batch in self.journal.scan_from(upto) {
            let batch = batch?;
            upto = batch.end();
            for record in batch.records().filter(|r| r.kind == RecordKind::Entry) {
                done += 1;
                if file_entry(&self.book, &mut pending, &record, &mut named)? {
                    self.clock_notes = None;
                }
            }
            if pending.postings.len() >= POSTINGS_PER_BATCH {
                progress.tick("reading the journal", done, total);
                let fingerprint = self.fingerprint(upto)?;
                self.index.apply(take_batch(&mut pending, upto, fingerprint))?;
            }
        }
        let fingerprint = self.fingerprint(upto)?;
        self.index.apply(take_batch(&mut pending, upto, fingerprint))?;
        self.note_named(named);
        Ok(())
    }

    /// A checksum of the journal before `upto`. The index keeps it, to notice that it was made from another journal.
    pub(crate) fn fingerprint(&self, upto: Position) -> Result<u64, NodeError> {
        self.journal.fingerprint(upto).ok_or(NodeError::NotAtABatch(upto))
    }

    /// Makes the index durable. Without it the next open applies the end of the journal again.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn close(mut self) -> Result<(), NodeError> {
        match self.index.flush().map_err(NodeError::from) {
            // Nothing is lost by it, and a question that was answered is no failure.
            Err(refused) if is_refused(&refused) => tracing::warn!("{refused}; the next start makes it anew"),
            other => other?,
        }
        Ok(())
    }

    /// Throws the index away and makes it anew.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn rebuild(&mut self, progress: &dyn Progress) -> Result<(), NodeError> {
        self.index.clear()?;
        self.clock_notes = None;
        self.catch_up(progress)
    }
}

fn take_batch(pending: &mut IndexBatch, upto: Position, fingerprint: u64) -> IndexBatch {
    let mut batch = std::mem::take(pending);
    (batch.upto, batch.fingerprint) = (upto, fingerprint);
    batch
}

/// Adds what an entry says to the batch, and collects the pictures that it names. Returns whether it tells something of clocks.
fn file_entry(
    book: &Book,
    batch: &mut IndexBatch,
    record: &Record<'_>,
    named: &mut Vec<PictureHash>,
) -> Result<bool, NodeError> {
    let (log, seq) = (record.log, record.seq);
    let place = Place { log, seq, index: 0 };
    let problem = |why: String| {
        let mut key = vec![PROBLEM];
        key.extend_from_slice(format!("{log}:{seq:020}").as_bytes());
        (key, Some(why.into_bytes()))
    };
    let entry = match Entry::decode(record.bytes) {
        Ok(entry) => entry,
        Err(e) => {
            batch.values.push(problem(e.to_string()));
            return Ok(false);
        }
    };
    let facts = entry_facts(&log, &entry.body);
    // A body that cannot be read names no subjects. Why it cannot be read is filed as a problem below.
    let read = facts.as_deref().unwrap_or_default();
    batch.postings.extend(keys_of(&log, &entry, read));
    let places = (0u32..).map(|index| Place { index, ..place });
    batch.facts.extend(read.iter().map(|f| f.id()).zip(places));
    for picture in read.iter().filter_map(crate::picture::named) {
        batch.values.push((picture_key(&picture), Some(Vec::new())));
        named.push(picture);
    }
    let notes = clock_notes(book, &log, &entry, read)?;
    let tells = notes.is_some();
    batch.values.extend(notes.map(|(key, value)| (key, Some(value))));
    if let Err(e) = facts {
        batch.values.push(problem(e.to_string()));
    }
    Ok(tells)
}

/// The index keys of an entry and its facts.
pub(crate) fn keys_of(log: &LogId, entry: &Entry, facts: &[Fact]) -> Vec<(Vec<u8>, Place)> {
    let place = Place {
        log: *log,
        seq: entry.seq,
        index: 0,
    };
    let mut found = Vec::new();
    match &entry.body {
        Body::Change { job, .. } => found.push((doc_key(job), place)),
        Body::Governance(_) => found.push((GOVERNANCE.to_vec(), place)),
        Body::Loose(_) | Body::Unknown { .. } => {}
    }
    for (index, fact) in (0u32..).zip(facts) {
        let place = Place { index, ..place };
        let days = keys_of_times(&log.device, fact, entry.stamp).into_iter();
        found.extend(days.map(|key| (key, place)));
        let subjects = mentions(fact, &log.device);
        found.extend(subjects.iter().map(|s| (s.to_key(), place)));
        if *fact.kind() == Kind::Stock {
            let parts = subjects.iter().filter(|s| s.class() != Class::List);
            found.extend(parts.map(|s| (listed_key(&s.to_key()), place)));
        }
        if let (Kind::SignOff | Kind::StandDown, Some(job)) = (fact.kind(), fact.text("job")) {
            found.push((key_of(ENDED, &name_key(&job)), place));
        }
    }
    found
}

impl Node {
    /// The entries whose content cannot be used, with the reasons.
    ///
    /// # Errors
    /// When the index cannot be read.
    pub fn problems(&self) -> Result<Vec<String>, NodeError> {
        let mut found = Vec::new();
        for row in self.index.values(&[PROBLEM]) {
            let (key, why) = row?;
            // Without the tag. Every key of this prefix has it.
            let place = String::from_utf8_lossy(key.get(1..).unwrap_or_default()).into_owned();
            found.push(format!("{place}: {}", String::from_utf8_lossy(&why)));
        }
        Ok(found)
    }
}
