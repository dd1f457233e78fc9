//! Reasons about devices and their logs.

use std::collections::BTreeSet;

use gladhand_facts::{LogId, Place};
use serde::{Deserialize, Serialize};

use crate::interval::Interval;
use crate::oddity::Shows;
use crate::reason::fact_ref::FactRef;

/// A device's clock is, or was, off.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct WrongClock {
    /// Where it is shown.
    pub place: Place,
    /// By what.
    pub proof: ClockProof,
}

/// What shows that a clock is off.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ClockProof {
    /// A reading of it against another clock.
    Reading {
        /// By how much it is certainly ahead of the depot's clock; negative when it is behind.
        ahead_us: i64,
        /// When the reading was taken, by the depot's clock.
        taken_within: Interval,
    },
    /// An entry in the device's log.
    Entry(Shows),
}

/// A device's log goes on in more than one way.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct ForkedLog {
    /// Places that several entries claim.
    pub claims: Vec<ClaimedPlace>,
    /// Logs that go on in several others.
    pub continuations: Vec<Continuation>,
}

/// A place in a log that several entries claim.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct ClaimedPlace {
    /// The log.
    pub log: LogId,
    /// The place, counted from 1.
    pub seq: u64,
    /// The hashes of the entries, in hexadecimal digits.
    pub hashes: Vec<String>,
}

/// A log that copies of one home go on from.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Continuation {
    /// The log.
    pub log: LogId,
    /// The first place from which it goes on more than once.
    pub seq: u64,
    /// The logs that go on from there.
    pub logs: BTreeSet<LogId>,
}

/// Facts of kinds that this version does not know.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct UnknownKinds {
    /// The kinds as written.
    pub kinds: BTreeSet<String>,
    /// The facts.
    pub facts: Vec<FactRef>,
}
