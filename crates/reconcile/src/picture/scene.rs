//! What a picture shows, before anything has a position.

use std::sync::Arc;

use gladhand_facts::{LogId, Place, Stamp, VersionVector};

use crate::finding::{Severity, Standing};
use crate::order::Placed;

/// What a picture shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// What it is a history of.
    pub title: String,
    /// The devices, from left to right. A device with several logs has several lanes. One without a mark is not drawn.
    pub lanes: Vec<Lane>,
    /// The facts, in the order of the history.
    pub facts: Vec<Mark>,
    /// Entries beside the facts at which a device had newly seen some of them.
    pub sightings: Vec<Mark>,
    /// The open findings that the facts make.
    pub clashes: Vec<Clash>,
}

/// One log.
#[derive(Debug, Clone, PartialEq)]
pub struct Lane {
    /// The log.
    pub log: LogId,
    /// What the device is called.
    pub name: String,
    /// What is known of its clock.
    pub clock: String,
}

/// How a mark looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// Something seen or done.
    Dot,
    /// The end of a job: a sign-off or a stand-down.
    Square,
    /// An entry that had newly seen something.
    Diamond,
}

/// Something at a place of a log.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Its place.
    pub place: Place,
    /// Its stamp.
    pub stamp: Stamp,
    /// What its writer had seen of other logs.
    pub seen: Arc<VersionVector>,
    /// How it looks.
    pub shape: Shape,
    /// When it was, as written (RFC 3339).
    pub at: String,
    /// When that was as far as is known, in microseconds since 1970. It only chooses among the rows that the order leaves open.
    pub about_us: i64,
    /// What it is.
    pub label: String,
    /// Who, and the like, in small letters below.
    pub small: String,
    /// Whether it was taken back: its label is struck through.
    pub is_struck: bool,
}

impl Placed for Mark {
    fn place(&self) -> Place {
        self.place
    }

    fn stamp(&self) -> Stamp {
        self.stamp
    }

    fn has_seen(&self, place: &Place) -> bool {
        if place.log == self.place.log {
            (place.seq, place.index) < (self.place.seq, self.place.index)
        } else {
            self.seen.includes(&place.log, place.seq)
        }
    }
}

/// An open finding.
#[derive(Debug, Clone, PartialEq)]
pub struct Clash {
    /// Its id.
    pub id: String,
    /// Its rule.
    pub rule: String,
    /// How much it matters.
    pub severity: Severity,
    /// Whether the recorders could have known.
    pub standing: Standing,
    /// What it says.
    pub says: String,
    /// The facts of the picture that make it.
    pub facts: Vec<Place>,
}
