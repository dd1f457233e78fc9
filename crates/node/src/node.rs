//! The node itself: what is open, and how records become durable. The operations stand in a file each.

use std::collections::BTreeMap;

use gladhand_facts::LogId;
use gladhand_logbook::jobdoc::JobDoc;
use gladhand_logbook::{Book, NewRecord, NewRecords};
use gladhand_store::{Damage, Home, Index, Journal, Record, Unsettled};

use crate::config::Config;
use crate::environment::Environment;
use crate::error::NodeError;
use crate::wanted_pictures::WantedPictures;

/// One home with everything in it open.
pub struct Node {
    pub(crate) home: Home,
    pub(crate) config: Config,
    pub(crate) journal: Journal,
    pub(crate) book: Book,
    pub(crate) index: Index,
    pub(crate) docs: BTreeMap<String, JobDoc>,
    pub(crate) damage: Vec<Damage>,
    pub(crate) notes: Vec<String>,
    pub(crate) due_incarnation: Option<Unsettled>,
    pub(crate) environment: Environment,
    /// Which pictures are missing.
    pub(crate) wanted: WantedPictures,
    /// Counts what was committed, so that sessions pass it on as it comes.
    pub(crate) grown: tokio::sync::watch::Sender<u64>,
}

impl Node {
    /// What this device is and how it behaves.
    pub fn config(&self) -> &Config {
        &self.config
    }

    /// All logs.
    pub fn book(&self) -> &Book {
        &self.book
    }

    /// The bytes at rest.
    pub fn journal(&self) -> &Journal {
        &self.journal
    }

    /// The home.
    pub fn home(&self) -> &Home {
        &self.home
    }

    /// What was found damaged when the home was opened.
    pub fn damage(&self) -> &[Damage] {
        &self.damage
    }

    /// What else the user should be told about opening the home.
    pub fn notes(&self) -> &[String] {
        &self.notes
    }

    /// The bytes of an entry that counts here.
    pub(crate) fn entry_bytes(&self, log: &LogId, seq: u64) -> Result<Vec<u8>, NodeError> {
        let found = self.journal.read_entry(log, seq)?;
        found.ok_or(NodeError::EntryMissing { log: *log, seq })
    }

    /// Makes records durable, then makes them count.
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
