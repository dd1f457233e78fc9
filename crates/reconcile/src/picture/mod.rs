//! A history as a space-time diagram: a lane for each log, time downwards in the order of what was seen, facts as marks, a line
//! from lane to lane where a device had newly seen another's entries, the facts of open findings ringed and tied together.
//!
//! [`Scene`] says what is to be seen, `layout` where it goes, `svg` writes it down. The picture needs no colour, no script, no
//! style sheet and nothing fetched; it stands alone as a file and inside a page. Everything that it shows is in its
//! description too, so that whoever cannot see it misses nothing.
//!
//! Deliberately absent: clocks. The order is that of the history; times are only written beside it. Who handed entries over is
//! nowhere recorded, only who had seen what: a line means that, by whatever way it came.

mod layout;
mod routes;
mod svg;

use std::sync::Arc;

use gladhand_facts::{Place, Stamp, VersionVector};

use crate::finding::{Severity, Standing};
use crate::order::Stands;

/// What a picture shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// What it is a history of.
    pub title: String,
    /// The devices, from left to right. A device with several logs has several lanes.
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
    pub log: gladhand_facts::LogId,
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
    /// Somebody had newly seen something.
    Diamond,
}

/// Something at a place of a log.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Where it stands.
    pub place: Place,
    /// Its stamp.
    pub stamp: Stamp,
    /// What its writer had seen of other logs.
    pub seen: Arc<VersionVector>,
    /// How it looks.
    pub shape: Shape,
    /// When it was, as written.
    pub at: String,
    /// What it is.
    pub label: String,
    /// Who, and the like, in small letters below.
    pub small: String,
}

impl Stands for Mark {
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
    /// Its rule.
    pub rule: String,
    /// How much it matters.
    pub severity: Severity,
    /// Whether anybody could have known.
    pub standing: Standing,
    /// What it says.
    pub says: String,
    /// The facts of the picture that make it.
    pub facts: Vec<Place>,
}

/// What a picture holds, counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Drawn {
    /// Lanes.
    pub lanes: usize,
    /// Facts.
    pub facts: usize,
    /// Lines between lanes.
    pub meetings: usize,
    /// Open findings.
    pub clashes: usize,
}

/// How a character that means something in markup is written there as itself.
pub fn entity(c: char) -> Option<&'static str> {
    match c {
        '&' => Some("&amp;"),
        '<' => Some("&lt;"),
        '>' => Some("&gt;"),
        '"' => Some("&quot;"),
        '\'' => Some("&#39;"),
        _ => None,
    }
}

impl Scene {
    /// The picture as SVG, and what is on it.
    pub fn draw(&self) -> (String, Drawn) {
        let layout = layout::Layout::of(self);
        let drawn = Drawn {
            lanes: self.lanes.len(),
            facts: self.facts.len(),
            meetings: layout.meetings.len(),
            clashes: layout.clashes.len(),
        };
        (svg::write(self, &layout), drawn)
    }
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
