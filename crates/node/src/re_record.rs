//! Facts that nobody else can take in any more are said again.
//!
//! A damaged disk may lose what later entries of this device had seen. If nobody else has it either, nobody takes those
//! entries in, receipts or not. So, once the depot has nothing left that would help, this device records their facts once more, in the
//! log that it writes now. Should the lost entries turn up one day the facts stand in two places, and are the same facts.
//!
//! Not done before the depot was met: as a rule it, or somebody who has met it, still has what was lost here.

use gladhand_facts::{DeviceKey, Place};
use gladhand_logbook::Entry;

use crate::catch_up::entry_facts;
use crate::error::NodeError;
use crate::node::Node;
use crate::progress::Silent;
use crate::record::Planned;

impl Node {
    /// Says again what is stuck here, if `peer`, with whom everything is level, should have been able to help.
    /// Returns whether anything was said.
    pub(crate) fn say_again_to(&mut self, peer: Option<DeviceKey>) -> Result<bool, NodeError> {
        let root = self.book.roster().root();
        let would_help = root.is_some() && (peer == root || root == Some(self.device()));
        if !would_help || self.book.causal_gaps().next().is_none() {
            return Ok(false);
        }
        let mut stuck = self.stuck_facts()?;
        if stuck.is_empty() {
            return Ok(false);
        }
        if !self.own_log_is_closed() {
            self.must_start_incarnation(None, "its log had seen what is lost");
        }
        self.start_incarnation()?;
        let outcome = self.write_planned(&mut stuck);
        // The documents may hold changes that were never written, or that nobody else has.
        self.docs.clear();
        outcome?;
        self.catch_up(&Silent)?;
        Ok(true)
    }

    /// Whether others can take in what is written next.
    fn own_log_is_closed(&self) -> bool {
        let own = self.book.own_log();
        own.is_some_and(|own| self.book.closed_head(&own) == self.book.head(&own).0)
    }

    /// The facts of this device that stand only in entries which had seen what is lost.
    fn stuck_facts(&self) -> Result<Vec<Planned>, NodeError> {
        let own = self.device();
        let mut found = Vec::new();
        for (log, last) in self.book.causal_gaps().filter(|(log, _)| log.device == own) {
            for read in self.journal.entries(&log, last + 1, self.book.head(&log).0) {
                let (_, bytes) = read?;
                let Ok(entry) = Entry::decode(&bytes) else { continue };
                for fact in entry_facts(&log, &entry.body).unwrap_or_default() {
                    let stands = |place: &Place| self.book.is_closed(&place.log, place.seq);
                    if !self.index.own_fact(&fact.id())?.as_ref().is_some_and(stands) {
                        found.push(Planned { fact, place: None });
                    }
                }
            }
        }
        Ok(found)
    }
}
