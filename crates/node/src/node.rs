//! [`Node`]: what is open in a home, and how records become durable. Each group of operations has a file of its own.
//!
//! Invariant: records count (are in the book) only after they are in the journal, so nobody sees what a crash could take back.

use std::collections::BTreeMap;

use gladhand_facts::{DeviceKey, LogId};
use gladhand_logbook::jobdoc::JobDoc;
use gladhand_logbook::{Book, NewRecord, NewRecords};
use gladhand_store::{Damage, Home, Index, Journal, Record, Unsettled};

use crate::clock_trails::ClockNotes;
use crate::config::Config;
use crate::elsewhere::Elsewhere;
use crate::environment::Environment;
use crate::error::NodeError;
use crate::wanted_pictures::WantedPictures;

/// One home with everything in it open.
pub struct Node {
    pub(crate) home: Home,
    /// This device's key.
    pub(crate) device: DeviceKey,
    pub(crate) config: Config,
    pub(crate) journal: Journal,
    pub(crate) book: Book,
    pub(crate) index: Index,
    /// Where the index is, if it cannot be in the home. Dropped after it.
    pub(crate) elsewhere: Option<Elsewhere>,
    /// The documents of the jobs that were written last, so that the next fact need not load them. Must be cleared when a write
    /// failed: they may hold changes that are not in the journal.
    pub(crate) docs: BTreeMap<String, JobDoc>,
    pub(crate) damage: Vec<Damage>,
    pub(crate) notes: Vec<String>,
    /// Why a new log must be started before the next write, if it must.
    pub(crate) due_incarnation: Option<Unsettled>,
    pub(crate) environment: Environment,
    /// Which of the named pictures are missing.
    pub(crate) wanted: WantedPictures,
    /// What entries tell of clocks, as the index holds it; `None`: not read yet.
    pub(crate) clock_notes: Option<ClockNotes>,
    /// Counts commits. Sessions wait for a change to pass new entries on.
    pub(crate) grown: tokio::sync::watch::Sender<u64>,
}

impl Node {
    /// The configuration.
    pub fn config(&self) -> &Config {
        &self.config
    }

    /// What is known of all logs.
    pub fn book(&self) -> &Book {
        &self.book
    }

    /// The entries on disk.
    pub fn journal(&self) -> &Journal {
        &self.journal
    }

    /// The home.
    pub fn home(&self) -> &Home {
        &self.home
    }

    /// The damage that was found when the home was opened.
    pub fn damage(&self) -> &[Damage] {
        &self.damage
    }

    /// Other remarks about opening the home, for the user.
    pub fn notes(&self) -> &[String] {
        &self.notes
    }

    /// The bytes of an entry that counts here.
    pub(crate) fn entry_bytes(&self, log: &LogId, seq: u64) -> Result<Vec<u8>, NodeError> {
        let found = self.journal.read_entry(log, seq)?;
        found.ok_or(NodeError::EntryMissing { log: *log, seq })
    }

    /// Makes records durable, then adds them to the book.
    pub(crate) fn commit(&mut self, new: NewRecords) -> Result<(), NodeError> {
        let records: Vec<Record<'_>> = new.records.iter().map(as_record).collect();
        if records.is_empty() {
            return Ok(());
        }
        self.journal.append(&records)?;
        self.book.apply(new);
        self.grown.send_modify(|commits| *commits += 1);
        Ok(())
    }
}

fn as_record(new: &NewRecord) -> Record<'_> {
    match new {
        NewRecord::Entry { log, seq, bytes } => Record::entry(*log, *seq, bytes),
        NewRecord::Checkpoint(c) => Record::checkpoint(c.log, c.seq, &c.signature),
    }
}
