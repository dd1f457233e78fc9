//! What makes good a value that is outside its range: another check that passes, where the standard lets it count.
//!
//! Not here: whether that other check passes.

use gladhand_facts::Measure;

use crate::band::{BAND_KEYS, Band, Side};
use crate::requirement::{Applies, Visit};
use crate::section::{Section, StandardError};

/// Another check which, when it passes, makes up for a value outside the band.
#[derive(Debug, Clone, PartialEq)]
pub struct MadeGood {
    check: String,
    /// Only when the value is on this side of the band; `None`: on either.
    side: Option<Side>,
    /// Only for values in this band, such as a zone around the range.
    within: Option<Band>,
    applies: Applies,
}

impl MadeGood {
    pub(crate) fn read_all(section: &Section<'_>) -> Result<Vec<Self>, StandardError> {
        section.sections("made-good-by")?.iter().map(Self::read).collect()
    }

    fn read(section: &Section<'_>) -> Result<Self, StandardError> {
        section.only(&[&["check", "when"][..], &Applies::KEYS, &BAND_KEYS].concat())?;
        let side = if section.has("when") {
            Some(section.choice("when", &[("under", Side::Under), ("over", Side::Over)])?)
        } else {
            None
        };
        Ok(Self {
            check: section.text("check", "name the check that makes it good")?,
            side,
            within: Band::read(section, None)?,
            applies: Applies::read(section)?,
        })
    }

    /// The name of the other check.
    pub fn check(&self) -> &str {
        &self.check
    }

    /// Whether the other check can make good `value`, on `side` of the range, on such a visit.
    pub fn fits(&self, value: &Measure, side: Side, visit: Visit<'_>) -> bool {
        self.side.is_none_or(|only| only == side)
            && self.within.as_ref().is_none_or(|band| band.holds(value))
            && self.applies.holds(visit)
    }
}

#[cfg(test)]
#[path = "made_good_tests.rs"]
mod tests;
