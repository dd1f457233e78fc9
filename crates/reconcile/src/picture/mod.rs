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
mod scene;
mod svg;

pub use scene::{Clash, Lane, Mark, Scene, Shape};
pub use svg::entity;

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
