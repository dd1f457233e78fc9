//! Re-recording facts that are stuck behind a causal gap.
//!
//! A damaged disk may lose entries that later entries of this device had seen. If no other node has the lost entries either, no
//! node admits the later ones, although their facts have receipts. So when a merge with the depot has brought nothing that closes
//! the gap, this device records those facts again in its current log. If the lost entries turn up later, the facts stand in two
//! places and are still the same facts, because a fact's id does not depend on its place.
//!
//! Deliberately not before a merge with the depot: usually the depot, or a device that has merged with it, still has what was lost.

use gladhand_facts::{DeviceKey, Place};
use gladhand_logbook::Entry;

use crate::catch_up::entry_facts;
use crate::error::NodeError;
use crate::node::Node;
use crate::progress::Silent;
use crate::record::Planned;

impl Node {
    /// Records the stuck facts of this device again, if `peer`, with which this node is in sync, is the depot (or this node is).
    /// Returns whether anything was recorded.
    pub(crate) fn re_record_stuck_facts(&mut self, peer: Option<DeviceKey>) -> Result<bool, NodeError> {
        let root = self.book.roster().root();
        let depot_had_no_more = root.is_some() && (peer == root || root == Some(self.device()));
        if !depot_had_no_more || self.book.causal_gaps().next().is_none() {
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
        // The documents may hold changes that were never written, or that no other node has.
        self.docs.clear();
        outcome?;
        self.catch_up(&Silent)?;
        Ok(true)
    }

    /// Whether other nodes can admit what is written next: the own log has no causal gap.
    fn own_log_is_closed(&self) -> bool {
        let own = self.book.own_log();
        own.is_some_and(|own| self.book.closed_head(&own) == self.book.head(&own).0)
    }

    /// The facts of this device that stand only in entries behind a causal gap.
    fn stuck_facts(&self) -> Result<Vec<Planned>, NodeError> {
        let own = self.device();
        let mut found = Vec::new();
        for (log, last) in self.book.causal_gaps().filter(|(log, _)| log.device == own) {
            for read in self.journal.entries(&log, last + 1, self.book.head(&log).0) {
                let (_, bytes) = read?;
                // An entry that cannot be read has no facts to record again; `verify` reports it.
                let Ok(entry) = Entry::decode(&bytes) else { continue };
                for fact in entry_facts(&log, &entry.body).unwrap_or_default() {
                    let stands = |place: &Place| self.book.is_closed(&place.log, place.seq);
                    if !self.index.fact(&fact.id())?.as_ref().is_some_and(stands) {
                        found.push(Planned { fact, place: None });
                    }
                }
            }
        }
        Ok(found)
    }
}
