//! [`Past`]: what a device knew right after one of its own entries.
//!
//! That is everything the entry had seen, itself included, and the roster, work standard, clock readings and names that result
//! from the governance records among it; nothing later. Judging over a past gives what the device itself would have shown.
//!
//! A moment is an entry in the device's log. What the device received from others is only noted in its next own entry, so no other
//! node can tell what it knew between two entries.
//!
//! Deliberately absent: entries that this node has refused. [`Past::missing`] says how many of those that the device had seen are
//! not here, such as those behind a retirement.

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
    /// The device whose knowledge this is.
    pub fn device(&self) -> DeviceKey {
        self.device
    }

    /// When the entry was written, by the device's clock.
    pub fn at(&self) -> Option<&str> {
        self.at.as_deref()
    }

    /// What the device held.
    pub fn vector(&self) -> &VersionVector {
        &self.vector
    }

    /// How many of the entries that it held are not here.
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
