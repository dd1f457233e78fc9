//! A history as a space-time diagram: a lane for each log, downwards what had been seen before, facts as marks, a line from lane
//! to lane where a device had newly seen another's entries, the facts of open findings ringed, named and tied together.
//!
//! [`Scene`] holds what to show; `rows` and `ties` say what stands below what and what is joined, `blocks` and `letters` how
//! much room text takes, `routes` how lines keep apart, `layout` computes positions, `svg` and `key` write. The picture needs no
//! colour, no script, no style sheet and nothing fetched; it works as a file of its own and inside a page. Nothing that it says is
//! cut short. Its description says everything that it shows, for readers who cannot see it.
//!
//! Deliberately absent: a scale of time. What had seen another stands below it; marks side by side had not seen each other,
//! which is all that a row means. Which device handed entries to which is not recorded, only what each had seen: a line between
//! lanes means that.

mod blocks;
mod key;
mod layout;
mod letters;
mod routes;
mod rows;
mod scene;
mod svg;
mod ties;
mod times;

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
            lanes: layout.columns.len(),
            facts: layout.marks.iter().filter(|m| m.cell.number.is_some()).count(),
            meetings: layout.meetings.len(),
            clashes: layout.ties.len(),
        };
        (svg::write(self, &layout), drawn)
    }
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
