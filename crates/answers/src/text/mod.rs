//! Answers as text for a terminal: plain lines, no colour needed to understand them.
//!
//! Pure: an answer and the width of the page in, text out. [`Piece`] says what belongs on stdout and what
//! beside it; the binary prints it.

pub mod bundles;
pub mod clearance;
pub mod deed;
pub mod exported;
pub mod findings;
pub mod history;
pub mod homes;
pub mod job_list;
pub mod job_returns;
pub mod job_shown;
pub mod layout;
pub mod proof_picture;
pub mod receipt;
pub mod report;
pub mod standard;
pub mod status;
pub mod synced;
pub mod told;
pub mod trailer_shown;
pub mod verified;
pub mod warned;

pub use layout::Page;

/// A piece of text, in the order in which it is to be shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Piece {
    /// Data, for stdout. Ends with its own newline.
    Out(String),
    /// Beside the data, for stderr; only where people read. Without a newline at its end.
    Aside(String),
    /// Beside the data, for stderr; also where a script reads the JSON. Without a newline at its end.
    Warning(String),
}

/// An answer that can be shown on a terminal.
pub trait Text {
    /// The pieces to show, in order.
    fn text(&self, page: Page) -> Vec<Piece>;

    /// Only the warnings, to go beside the JSON. An answer whose text takes long gives them without making it.
    fn warnings(&self, page: Page) -> Vec<Piece> {
        let mut pieces = self.text(page);
        pieces.retain(|piece| matches!(piece, Piece::Warning(_)));
        pieces
    }
}

/// A line of data.
pub fn line(text: impl Into<String>) -> Piece {
    let mut text = text.into();
    text.push('\n');
    Piece::Out(text)
}
