//! What stands below the lanes: the signs with what they mean, and the findings in words.

use super::blocks::{self, Line};
use super::layout::{Layout, MARGIN};
use super::letters::Style;
use super::scene::Shape;
use super::ties::Tied;
use crate::words::picture as words;

const TEXT: Style = Style::plain(12);
/// Lines of text are not made longer than that, however wide the picture is.
const COMFORTABLE: u32 = 860;

/// A sign of the key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sign {
    Mark(Shape),
    Arrow,
    Tie,
    SideBySide,
}

/// The signs, from top to bottom.
pub(super) const SIGNS: [(Sign, &str); 6] = [
    (Sign::Mark(Shape::Dot), words::FACT),
    (Sign::Mark(Shape::Square), words::END_OF_JOB),
    (Sign::Mark(Shape::Diamond), words::SIGHTING),
    (Sign::Arrow, words::SEEN),
    (Sign::Tie, words::CLASH),
    (Sign::SideBySide, words::SIDE_BY_SIDE),
];

/// The findings in words, each in lines that fit the picture.
pub(super) fn findings(layout: &Layout<'_>) -> Vec<Vec<Line>> {
    let width = (layout.width - 2 * MARGIN).min(COMFORTABLE);
    let wrapped = |tied: &Tied<'_>| {
        let said = format!("[{}]\u{a0}\u{a0}{}", tied.letter, finding(tied));
        blocks::wrapped(&[Line::new(TEXT, &said)], width)
    };
    layout.ties.iter().map(wrapped).collect()
}

/// A finding in a sentence.
pub(super) fn finding(tied: &Tied<'_>) -> String {
    let clash = tied.clash;
    words::finding(&clash.id, &clash.rule, clash.severity, clash.standing, &clash.says)
}
