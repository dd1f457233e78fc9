//! Reconstructs what a device knew right after one of its own entries: makes a [`Past`] from book, index and journal.

use gladhand_facts::{DeviceKey, LogId, VersionVector};
use gladhand_logbook::governance::Record as Rule;
use gladhand_logbook::roster::Roster;
use gladhand_logbook::{Body, Entry};

use crate::error::NodeError;
use crate::in_force::{clocks_of, standard_of};
use crate::index_keys::GOVERNANCE;
use crate::indexed_facts::IndexedFacts;
use crate::node::Node;
use crate::past::{Past, counts};
use crate::seen::entry_time;

impl Node {
    /// What the writer of this entry knew right after it.
    ///
    /// # Errors
    /// When index or journal cannot be read.
    pub fn past(&self, log: &LogId, seq: u64) -> Result<Past, NodeError> {
        let (device, vector) = (log.device, self.book.known_at(log, seq));
        let records = self.records_within(&vector)?;
        let root = self.book.roster().root();
        let with_root = roster_from(root, &records);
        // Before a device has joined it knows no depot, so it trusts none of the depot's records.
        let had_joined = root == Some(device) || with_root.credential(&device).is_some();
        let roster = if had_joined {
            with_root
        } else {
            roster_from(None, &records)
        };
        let standard = standard_of(&roster);
        let counted = |log: &LogId, seq| counts(&roster, device, log, seq);
        let logs = self.log_times(&roster, &vector, &counted);
        let clocks = clocks_of(&roster, &standard, &counted, logs);
        let held = |(log, seq): (LogId, u64)| seq.saturating_sub(self.book.head(&log).0);
        let missing = vector.iter().map(held).sum();
        Ok(Past {
            device,
            at: entry_time(self, &IndexedFacts::new(self), log, seq)?,
            vector,
            roster,
            standard,
            clocks,
            missing,
        })
    }

    /// The governance records within `vector`, with their places.
    fn records_within(&self, vector: &VersionVector) -> Result<Vec<(LogId, u64, Rule)>, NodeError> {
        let mut found = Vec::new();
        for place in self.index.about(GOVERNANCE)? {
            let (log, seq) = (place.log, place.seq);
            if !vector.includes(&log, seq) {
                continue;
            }
            let bytes = self.entry_bytes(&log, seq)?;
            // A record that cannot be read has no effect, here as in the book.
            let body = Entry::decode(&bytes).map(|entry| entry.body);
            if let Ok(Body::Governance(json)) = body {
                found.extend(Rule::decode(&json).map(|rule| (log, seq, rule)));
            }
        }
        Ok(found)
    }
}

fn roster_from(root: Option<DeviceKey>, records: &[(LogId, u64, Rule)]) -> Roster {
    let mut roster = Roster::new(root);
    for (log, seq, rule) in records {
        roster.learn(log, *seq, rule.clone());
    }
    roster
}
