//! What is written at each mark and above each lane, in lines that fit the lane.

use super::letters::Style;
use super::rows::Cell;
use super::scene::Lane;
use super::ties::Tied;
use super::times::{Shown, Zone};
use crate::words::picture as words;

const LABEL: Style = Style::plain(12);
const RINGED: Style = Style::bold(12);
const FINDING: Style = Style::bold(11);
const SMALL: Style = Style::plain(11);
const DAY: Style = Style::bold(11);
const TITLE: Style = Style::bold(16);
const NAME: Style = Style::bold(13);
/// Text is wrapped at this width, unless a word is wider.
const COMFORTABLE: u32 = 300;

/// A line of text, or one that is to be wrapped.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Line {
    pub(super) style: Style,
    pub(super) text: String,
    pub(super) is_struck: bool,
}

/// What is written at a mark.
pub(super) struct Block {
    /// The day, above the mark, where it is another than at the mark before in the lane.
    pub(super) day: Option<Line>,
    pub(super) lines: Vec<Line>,
}

impl Line {
    pub(super) fn new(style: Style, text: &str) -> Self {
        Self {
            style,
            text: text.to_owned(),
            is_struck: false,
        }
    }

    /// How wide a lane should be for it.
    fn wants(&self) -> u32 {
        let comfortable = self.style.width(&self.text).min(COMFORTABLE);
        self.style.least_width(&self.text).max(comfortable)
    }

    fn wrapped(&self, width: u32) -> impl Iterator<Item = Self> + '_ {
        let lines = self.style.wrapped(&self.text, width).into_iter();
        lines.map(|text| Self { text, ..self.clone() })
    }
}

/// How wide a lane must be for all that is written in it.
pub(super) fn wanted<'l>(lines: impl IntoIterator<Item = &'l Line>) -> u32 {
    lines.into_iter().map(Line::wants).max().unwrap_or(0)
}

/// The same lines, none wider than that.
pub(super) fn wrapped(lines: &[Line], width: u32) -> Vec<Line> {
    lines.iter().flat_map(|line| line.wrapped(width)).collect()
}

/// How high lines are.
pub(super) fn height(lines: &[Line]) -> u32 {
    lines.iter().map(|line| line.style.line_height()).sum()
}

/// What stands above everything.
pub(super) fn title(title: &str, zone: Zone) -> Vec<Line> {
    vec![Line::new(TITLE, title), Line::new(SMALL, &words::zone(&zone.name()))]
}

/// The name of a lane, and what is known of its clock.
pub(super) fn head(lane: &Lane) -> Vec<Line> {
    vec![Line::new(NAME, &lane.name), Line::new(SMALL, &lane.clock)]
}

impl Block {
    pub(super) fn of(cell: &Cell<'_>, shown: &Shown, is_new_day: bool, findings: &[&Tied<'_>]) -> Self {
        let style = if findings.is_empty() { LABEL } else { RINGED };
        let label = match cell.number {
            // One word, so that the number never stands alone in its line.
            Some(number) => format!("{number}\u{a0}\u{a0}{}", cell.mark.label.trim_start()),
            None => cell.mark.label.clone(),
        };
        let label = Line {
            is_struck: cell.mark.is_struck,
            ..Line::new(style, &label)
        };
        let named = findings.iter().map(|tied| {
            let clash = tied.clash;
            let tag = words::tag(&tied.letter, clash.severity, &clash.id, &clash.rule);
            Line::new(FINDING, &tag)
        });
        let small = Line::new(SMALL, &words::small(&shown.clock, &cell.mark.small));
        Self {
            day: is_new_day.then(|| Line::new(DAY, &shown.day)),
            lines: [label].into_iter().chain(named).chain([small]).collect(),
        }
    }

    pub(super) fn all(&self) -> impl Iterator<Item = &Line> {
        self.day.iter().chain(&self.lines)
    }
}
