//! A node: one home with everything in it open.
//!
//! The way of a fact through here: lines -> [`record`] -> entries in the book -> the journal, fsync -> receipt; the
//! index follows ([`catch_up`]). The way of a frame: [`merge`] -> gate -> journal -> book; the index follows the same way.
//! Whatever is shown comes from [`view`].
//!
//! Invariant: what the book counts is in the journal. What the index holds can be made again from the journal.

mod bundle_file;
mod catch_up;
mod enrol;
mod environment;
mod error;
mod forks;
mod history;
mod indexed_facts;
mod judge;
mod late_picture;
mod merge;
mod open;
mod past;
pub mod peer;
pub mod picture;
mod re_record;
mod record;
mod seen;
mod upkeep;
mod verify;
mod view;

use std::collections::BTreeMap;

use gladhand_logbook::jobdoc::JobDoc;
use gladhand_logbook::{Book, NewRecord, NewRecords};
use gladhand_store::{Damage, Home, Index, Journal, Record, Unsettled};

pub use bundle_file::inspect_bundle;
pub use catch_up::entry_facts;
pub use environment::{Environment, Rng};
pub use error::NodeError;
pub use history::{History, HistoryQuery};
pub use indexed_facts::IndexedFacts;
pub use merge::{BundleRead, BundleWritten};
pub use open::{Progress, Silent};
pub use past::Past;
pub use record::{Receipt, Taken};
pub use verify::{Verified, Wrong};
pub use view::View;

use crate::config::Config;

/// One home with everything in it open.
pub struct Node {
    home: Home,
    config: Config,
    journal: Journal,
    book: Book,
    index: Index,
    docs: BTreeMap<String, JobDoc>,
    damage: Vec<Damage>,
    notes: Vec<String>,
    due_incarnation: Option<Unsettled>,
    environment: Environment,
    /// Which pictures are missing.
    wanted: picture::WantedPictures,
    /// Counts what was committed, so that sessions pass it on as it comes.
    grown: tokio::sync::watch::Sender<u64>,
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

    /// Makes records durable, then makes them count.
    fn commit(&mut self, new: NewRecords) -> Result<(), NodeError> {
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
