//! A picture that comes when the facts that name it are recorded already.
//!
//! A fact is never altered, so the picture comes in with a fact of its own: what the first said, now with the bytes. Only
//! this device's newest facts are looked through; a picture that comes weeks later is nobody's.

use gladhand_facts::{Fact, LogId};
use gladhand_logbook::Entry;
use gladhand_store::PictureHash;
use serde_json::{Map, Value};

use crate::catch_up::entry_facts;
use crate::error::NodeError;
use crate::node::Node;
use crate::picture;

/// How far back it is looked for the facts that name a picture: some days of one laptop.
const ENTRIES_BACK: u64 = 5_000;
/// What the second fact says of itself, unless the first has a remark of its own.
const NOTE: &str = "the picture came after the fact";

impl Node {
    /// Keeps the picture `bytes`, which came as file `name`, if facts of this device have named it and did not get it. Returns
    /// how many did.
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
        let facts = waiting.iter().map(|fact| followed(&device, fact, hash));
        // What was accepted once reads again; should it not, the picture is kept and nothing refers to it.
        let facts: Vec<Fact> = facts.filter_map(Result::ok).collect();
        Ok(self.record(facts)?.len())
    }

    fn without_picture(&self, name: &str) -> Result<Vec<Fact>, NodeError> {
        let own = self.device();
        let logs: Vec<(LogId, u64)> = self.book.vector().iter().filter(|(log, _)| log.device == own).collect();
        let mut found = Vec::new();
        for (log, head) in logs {
            for entry in self.journal.entries(&log, head.saturating_sub(ENTRIES_BACK) + 1, head) {
                let (_, bytes) = entry?;
                let body = Entry::decode(&bytes).map(|entry| entry.body);
                let facts = body.ok().and_then(|body| entry_facts(&log, &body).ok());
                let waits = |fact: &Fact| {
                    let named = picture::file_beside(fact).ok().flatten();
                    named.as_deref() == Some(name) && picture::named(fact).is_none()
                };
                found.extend(facts.into_iter().flatten().filter(waits));
            }
        }
        Ok(found)
    }
}

/// What `fact` said, with the picture.
fn followed(
    device: &gladhand_facts::DeviceKey,
    fact: &Fact,
    hash: PictureHash,
) -> Result<Fact, gladhand_facts::FactError> {
    let mut map: Map<String, Value> = fact.shown();
    map.insert("picture".into(), format!("blake3:{hash}").into());
    map.entry("note").or_insert_with(|| NOTE.into());
    Fact::from_map(device, map)
}
