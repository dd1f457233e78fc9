//! A history as a space-time diagram: a lane for each log, time downwards in the order of what was seen, facts as marks, a line
//! from lane to lane where a device had newly seen another's entries, the facts of open findings ringed and tied together.
//!
//! [`Scene`] holds what to show, `layout` computes positions, `svg` writes the text. The picture needs no colour, no script, no
//! style sheet and nothing fetched; it works as a file of its own and inside a page. Its description says everything that it
//! shows, for readers who cannot see it.
//!
//! Deliberately absent: clocks. The order is that of the history; times are only written beside it. Which device handed entries
//! to which is not recorded, only what each had seen: a line between lanes means that.

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
