//! What the recorders of the facts that clash had seen of each other.

use std::collections::BTreeSet;

use gladhand_facts::{DeviceKey, LogId};
use serde::{Deserialize, Serialize};

use crate::reason::fact_ref::FactLabel;

/// What the recorders of the facts that clash had seen of each other.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Knowledge {
    /// Nothing that was recorded clashes with anything else.
    NoClash,
    /// Neither of two recorders had seen the other's fact.
    Neither(Recorded, Recorded),
    /// The facts are of one sort, and none of these logs had seen another's.
    NoneOf(BTreeSet<LogId>),
    /// A recorder had seen the earlier fact.
    Seen {
        /// The device of that recorder.
        by: DeviceKey,
        /// The earlier fact.
        earlier: FactLabel,
        /// Whether it is in the recorder's own log.
        own: bool,
        /// For how long the device had held it, by its own clock. `None` where that clock cannot tell.
        held_us: Option<i64>,
    },
}

/// A fact and the device that recorded it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Recorded {
    /// The device.
    pub device: DeviceKey,
    /// The fact.
    pub fact: FactLabel,
}
