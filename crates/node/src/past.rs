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
use gladhand_logbook::roster::Roster;
use gladhand_reconcile::Clocks;
use gladhand_trade::Standard;

/// See the module doc.
pub struct Past {
    pub(crate) device: DeviceKey,
    pub(crate) at: Option<String>,
    pub(crate) vector: VersionVector,
    pub(crate) roster: Roster,
    pub(crate) standard: Standard,
    pub(crate) clocks: Clocks,
    pub(crate) missing: u64,
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

/// Whether the device `own` counts an entry by this roster.
pub(crate) fn counts(roster: &Roster, own: DeviceKey, log: &LogId, seq: u64) -> bool {
    roster.counts_for(Some(own), log, seq).is_ok()
}
