//! A picture that arrives after the facts that name it were recorded.
//!
//! A fact is never altered, so a second fact is recorded: the content of the first, now with the picture's hash.
//!
//! Deliberately limited to this device's newest facts: a picture that arrives weeks later is not assigned to any fact.

use gladhand_facts::{Fact, LogId};
use gladhand_logbook::Entry;
use gladhand_store::PictureHash;
use serde_json::{Map, Value};

use crate::catch_up::entry_facts;
use crate::error::NodeError;
use crate::node::Node;
use crate::picture;

/// How many entries of each own log are searched for facts that name the picture: some days of one laptop.
const ENTRIES_BACK: u64 = 5_000;
/// The note of the second fact, unless the first has one of its own.
const NOTE: &str = "the picture came after the fact";

impl Node {
    /// Keeps the picture `bytes` of the file `name`, if facts of this device name it and have no picture yet. Returns how many.
    ///
    /// # Errors
    /// When it cannot be kept or recorded.
    pub fn take_late_picture(&mut self, name: &str, bytes: &[u8]) -> Result<usize, NodeError> {
        let waiting = self.without_picture(name)?;
        if waiting.is_empty() {
            return Ok(0);
        }
        let hash = self.pictures().put(bytes)?;
        let device = self.device();
        let facts = waiting.iter().map(|fact| with_picture(&device, fact, hash));
        // A recorded fact with one key more is valid unless it is at the size limit. Such a fact stays without its picture.
        let facts: Vec<Fact> = facts.filter_map(Result::ok).collect();
        self.catch_up(&crate::progress::Silent)?;
        Ok(self.record_checked(facts)?.len())
    }

    /// The facts of this device that name the file `name` and have no picture.
    fn without_picture(&self, name: &str) -> Result<Vec<Fact>, NodeError> {
        let own = self.device();
        let logs: Vec<(LogId, u64)> = self.book.vector().iter().filter(|(log, _)| log.device == own).collect();
        let mut found = Vec::new();
        for (log, head) in logs {
            for entry in self.journal.entries(&log, head.saturating_sub(ENTRIES_BACK) + 1, head) {
                let (_, bytes) = entry?;
                // An entry that cannot be read has no facts; `status` and `verify` report it.
                let body = Entry::decode(&bytes).map(|entry| entry.body);
                let facts = body.ok().and_then(|body| entry_facts(&log, &body).ok());
                let waits = |fact: &Fact| {
                    // A name that is no plain file name is an error here; no file is ever taken for it.
                    let named = picture::file_beside(fact).ok().flatten();
                    named.as_deref() == Some(name) && picture::named(fact).is_none()
                };
                found.extend(facts.into_iter().flatten().filter(waits));
            }
        }
        Ok(found)
    }
}

/// The content of `fact`, with the picture's hash.
fn with_picture(
    device: &gladhand_facts::DeviceKey,
    fact: &Fact,
    hash: PictureHash,
) -> Result<Fact, gladhand_facts::FactError> {
    let mut map: Map<String, Value> = fact.shown();
    map.insert("picture".into(), format!("blake3:{hash}").into());
    map.entry("note").or_insert_with(|| NOTE.into());
    Fact::from_map(device, map)
}
