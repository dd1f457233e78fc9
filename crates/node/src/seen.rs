//! Which devices had seen a fact, and the first entry of each that had: from the book, because facts do not say.
//!
//! Deliberately only entries: a device that holds a fact and has written nothing since is not listed, not even this one.
//!
//! Invariant: nodes with equal version vectors give equal answers.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry as Slot;

use gladhand_facts::{DeviceKey, LogId, Moment, Place, Stamp, VersionVector};
use gladhand_logbook::Entry;
use gladhand_reconcile::Names;
use gladhand_reconcile::timeline::SeenBy;

use crate::error::NodeError;
use crate::indexed_facts::IndexedFacts;
use crate::node::Node;
use crate::past::Past;

/// Looks up which devices had seen a fact, as known here or at a moment.
pub(crate) struct SeenByLookup<'n> {
    node: &'n Node,
    indexed: &'n IndexedFacts<'n>,
    vector: VersionVector,
    times: BTreeMap<(LogId, u64), Option<String>>,
}

impl<'n> SeenByLookup<'n> {
    pub(crate) fn new(node: &'n Node, indexed: &'n IndexedFacts<'n>, past: Option<&Past>) -> Self {
        Self {
            node,
            indexed,
            vector: past.map_or_else(|| node.book.vector(), |p| p.vector().clone()),
            times: BTreeMap::new(),
        }
    }

    /// The devices that had seen what stands at `place`, sorted by name.
    pub(crate) fn of(&mut self, place: &Place) -> Result<Vec<SeenBy>, NodeError> {
        let mut found = Vec::new();
        for (device_key, (log, entry)) in self.firsts(place) {
            found.push(SeenBy {
                device: self.indexed.device_name(&device_key),
                device_key,
                entry,
                at: self.time(&log, entry)?,
                log,
            });
        }
        found.sort_by(|a, b| (&a.device, a.device_key).cmp(&(&b.device, b.device_key)));
        Ok(found)
    }

    /// For each other device the first entry that had seen it, in the first of its logs that has one.
    fn firsts(&self, place: &Place) -> BTreeMap<DeviceKey, (LogId, u64)> {
        let mut found = BTreeMap::new();
        for (log, head) in self.vector.iter().filter(|(log, _)| log.device != place.log.device) {
            let first = self.node.book.first_seen(&log, &place.log, place.seq);
            if let Some(entry) = first.filter(|entry| *entry <= head && self.indexed.counts(&log, *entry)) {
                found.entry(log.device).or_insert((log, entry));
            }
        }
        found
    }

    fn time(&mut self, log: &LogId, seq: u64) -> Result<Option<String>, NodeError> {
        let slot = match self.times.entry((*log, seq)) {
            Slot::Occupied(known) => return Ok(known.get().clone()),
            Slot::Vacant(slot) => slot,
        };
        let at = entry_time(self.node, self.indexed, log, seq)?;
        Ok(slot.insert(at).clone())
    }
}

/// When an entry was written, by its first fact's time or else by its stamp.
pub(crate) fn entry_time(
    node: &Node,
    indexed: &IndexedFacts<'_>,
    log: &LogId,
    seq: u64,
) -> Result<Option<String>, NodeError> {
    if let Some(first) = indexed.entry(log, seq)?.first() {
        return Ok(Some(first.at().text().to_owned()));
    }
    Ok(node
        .entry_stamp(log, seq)?
        .map(|stamp| Moment::from_unix_us(stamp.wall_us, 0).text().to_owned()))
}

impl Node {
    /// The stamp of an entry. `None`: it is not held, or cannot be read.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn entry_stamp(&self, log: &LogId, seq: u64) -> Result<Option<Stamp>, NodeError> {
        let bytes = self.journal.read_entry(log, seq)?;
        let header = bytes.and_then(|bytes| Entry::header(&bytes).ok());
        Ok(header.map(|header| header.stamp))
    }
}
