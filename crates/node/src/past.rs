//! What a device knew right after one of its own entries, and could show then.
//!
//! That is everything that the entry had seen, the entry included; the roster, work standard, clock readings and names
//! that the governance records among it add up to; and nothing that came later. So whatever is judged here is judged as
//! the device itself judged it at that moment.
//!
//! A moment is a place in the device's log. What a device has taken in from others stands in its next own entry, so between
//! two entries nobody else can tell when it knew what: the answers are those right after the entry was written.
//!
//! Deliberately absent: what this node has refused since. If an entry that the device had seen is not here, as with one behind a
//! retirement, [`Past::missing`] says how many.

use gladhand_facts::{DeviceKey, LogId, VersionVector};
use gladhand_logbook::governance::Record as Rule;
use gladhand_logbook::roster::Roster;
use gladhand_logbook::{Body, Entry};
use gladhand_reconcile::Clocks;
use gladhand_trade::Standard;

use crate::catch_up::GOVERNANCE;
use crate::error::NodeError;
use crate::indexed_facts::IndexedFacts;
use crate::node::Node;
use crate::seen::entry_time;
use crate::view::{clocks_of, standard_of};

/// See the module doc.
pub struct Past {
    device: DeviceKey,
    at: Option<String>,
    vector: VersionVector,
    roster: Roster,
    standard: Standard,
    clocks: Clocks,
    missing: u64,
}

impl Past {
    /// Whose knowledge this is.
    pub fn device(&self) -> DeviceKey {
        self.device
    }

    /// When it was, by the device's clock: when the entry was written.
    pub fn at(&self) -> Option<&str> {
        self.at.as_deref()
    }

    /// What the device held.
    pub fn vector(&self) -> &VersionVector {
        &self.vector
    }

    /// How many entries that it held are not here.
    pub fn missing(&self) -> u64 {
        self.missing
    }

    pub(crate) fn roster(&self) -> &Roster {
        &self.roster
    }

    /// The work standard that was in force.
    pub fn standard(&self) -> &Standard {
        &self.standard
    }

    pub(crate) fn clocks(&self) -> &Clocks {
        &self.clocks
    }

    /// Whether the device held this entry and counted it.
    pub(crate) fn counts(&self, log: &LogId, seq: u64) -> bool {
        self.vector.includes(log, seq) && counts(&self.roster, self.device, log, seq)
    }
}

fn counts(roster: &Roster, own: DeviceKey, log: &LogId, seq: u64) -> bool {
    roster.counts_for(Some(own), log, seq).is_ok()
}

impl Node {
    /// What the writer of this entry knew right after it.
    ///
    /// # Errors
    /// When index or journal cannot be read.
    pub fn past(&self, log: &LogId, seq: u64) -> Result<Past, NodeError> {
        let (device, vector) = (log.device, self.book.known_at(log, seq));
        let records = self.records_within(&vector)?;
        let root = self.book.roster().root();
        let with_root = add_up(root, &records);
        let had_joined = root == Some(device) || with_root.credential(&device).is_some();
        let roster = if had_joined { with_root } else { add_up(None, &records) };
        let standard = standard_of(&roster);
        let clocks = clocks_of(&roster, &standard, &|log, seq| counts(&roster, device, log, seq));
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

    fn records_within(&self, vector: &VersionVector) -> Result<Vec<(LogId, u64, Rule)>, NodeError> {
        let mut found = Vec::new();
        for place in self.index.about(GOVERNANCE)? {
            let (log, seq) = (place.log, place.seq);
            if !vector.includes(&log, seq) {
                continue;
            }
            let bytes = self.entry_bytes(&log, seq)?;
            let body = Entry::decode(&bytes).map(|entry| entry.body);
            if let Ok(Body::Governance(json)) = body {
                found.extend(Rule::decode(&json).map(|rule| (log, seq, rule)));
            }
        }
        Ok(found)
    }
}

fn add_up(root: Option<DeviceKey>, records: &[(LogId, u64, Rule)]) -> Roster {
    let mut roster = Roster::new(root);
    for (log, seq, rule) in records {
        roster.learn(log, *seq, rule.clone());
    }
    roster
}
