//! A range of measures: `at-least`, `at-most`, `over`, `below`, `exactly`.
//!
//! Edges are exact. `at-least` and `at-most` belong to the range, `over` and `below` do not; the difference
//! between "less than 1/2 in" and "1/2 in or less" is the difference between two answers.

use std::fmt;

use gladhand_facts::measure::Exact;
use gladhand_facts::{Dimension, Measure};

use crate::section::{Section, StandardError};

/// The keys by which a band is written.
pub(crate) const BAND_KEYS: [&str; 5] = ["at-least", "at-most", "over", "below", "exactly"];

/// Where a measure lies, seen from a band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Too small.
    Under,
    /// In the band.
    Inside,
    /// Too large.
    Over,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Edge {
    at: Measure,
    belongs: bool,
}

/// A range of measures of one dimension. At least one end is given.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    lower: Option<Edge>,
    upper: Option<Edge>,
    dimension: Dimension,
}

impl Band {
    /// Reads the band that stands in `section`; `None` when no key of a band is there.
    pub(crate) fn read(section: &Section<'_>, wanted: Option<Dimension>) -> Result<Option<Self>, StandardError> {
        let end = |key, belongs| {
            let measure = section.measure_opt(key, wanted)?;
            Ok::<_, StandardError>(measure.map(|at| Edge { at, belongs }))
        };
        let lowers = [end("at-least", true)?, end("over", false)?];
        let uppers = [end("at-most", true)?, end("below", false)?];
        let exactly = end("exactly", true)?;
        let too_many = |key| section.wrong(key, "contradicts the other end beside it", "keep one of the two");
        match (lowers, uppers, exactly) {
            ([Some(_), Some(_)], _, _) => Err(too_many("over")),
            (_, [Some(_), Some(_)], _) => Err(too_many("below")),
            ([None, None], [None, None], None) => Ok(None),
            ([None, None], [None, None], Some(e)) => Self::check(section, "exactly", Some(e), Some(e)).map(Some),
            (_, _, Some(_)) => Err(too_many("exactly")),
            ([a, b], [c, d], None) => {
                let key = if c.is_some() { "at-most" } else { "below" };
                Self::check(section, key, a.or(b), c.or(d)).map(Some)
            }
        }
    }

    fn check(s: &Section<'_>, key: &str, lower: Option<Edge>, upper: Option<Edge>) -> Result<Self, StandardError> {
        let dimension = lower.or(upper).map_or(Dimension::Count, |e| e.at.dimension());
        if let (Some(low), Some(high)) = (lower, upper) {
            if low.at.dimension() != high.at.dimension() {
                return Err(s.wrong(
                    key,
                    "is of another kind than the lower end",
                    "use the same kind of unit",
                ));
            }
            let empty = high.at < low.at || (high.at == low.at && !(low.belongs && high.belongs));
            if empty {
                return Err(s.wrong(key, "leaves nothing above the lower end", "write a larger upper end"));
            }
        }
        Ok(Self {
            lower,
            upper,
            dimension,
        })
    }

    /// `value` give or take `tolerance`, both ends included; `None` when the dimensions differ.
    pub(crate) fn around(value: Measure, tolerance: Measure) -> Option<Self> {
        let edge = |at| Some(Edge { at, belongs: true });
        Some(Self {
            lower: edge(value.minus(&tolerance)?),
            upper: edge(value.plus(&tolerance)?),
            dimension: value.dimension(),
        })
    }

    /// Everything larger than `limit`.
    pub(crate) fn more_than(limit: Measure) -> Self {
        Self {
            lower: Some(Edge {
                at: limit,
                belongs: false,
            }),
            upper: None,
            dimension: limit.dimension(),
        }
    }

    /// Everything up to `limit`, the limit included.
    pub(crate) fn up_to(limit: Measure) -> Self {
        Self {
            lower: None,
            upper: Some(Edge {
                at: limit,
                belongs: true,
            }),
            dimension: limit.dimension(),
        }
    }

    /// The dimension of what it holds.
    pub fn dimension(&self) -> Dimension {
        self.dimension
    }

    /// Where `measure` lies; `None` when it is of another dimension.
    pub fn side(&self, measure: &Measure) -> Option<Side> {
        (measure.dimension() == self.dimension).then(|| self.side_of(measure.base()))
    }

    /// Whether `measure` lies in the band.
    pub fn holds(&self, measure: &Measure) -> bool {
        self.side(measure) == Some(Side::Inside)
    }

    /// Whether everything from `low` to `high` (base units, both included) lies in the band.
    pub(crate) fn holds_all(&self, low: Exact, high: Exact) -> bool {
        self.side_of(low) == Side::Inside && self.side_of(high) == Side::Inside
    }

    /// Whether anything from `low` to `high` (base units, both included) lies in the band.
    pub(crate) fn touches(&self, low: Exact, high: Exact) -> bool {
        self.side_of(low) != Side::Over && self.side_of(high) != Side::Under
    }

    /// Whether it goes on without end upwards.
    pub(crate) fn is_open_above(&self) -> bool {
        self.upper.is_none()
    }

    /// Whether every measure of `self` is smaller than every measure of `other`.
    pub(crate) fn is_before(&self, other: &Self) -> bool {
        match (&self.upper, &other.lower) {
            (Some(high), Some(low)) => high.at < low.at || (high.at == low.at && !(high.belongs && low.belongs)),
            _ => false,
        }
    }

    fn side_of(&self, base: Exact) -> Side {
        let under = self.lower.is_some_and(|e| {
            if e.belongs {
                base < e.at.base()
            } else {
                base <= e.at.base()
            }
        });
        let over = self.upper.is_some_and(|e| {
            if e.belongs {
                base > e.at.base()
            } else {
                base >= e.at.base()
            }
        });
        match (under, over) {
            (true, _) => Side::Under,
            (_, true) => Side::Over,
            _ => Side::Inside,
        }
    }
}

impl fmt::Display for Band {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (&self.lower, &self.upper) {
            (Some(low), Some(high)) if low.at == high.at => write!(f, "exactly {}", low.at),
            (Some(low), Some(high)) => {
                let from = if low.belongs { "" } else { "over " };
                let to = if high.belongs { "" } else { "just under " };
                write!(f, "{from}{} to {to}{}", low.at, high.at)
            }
            (Some(low), None) => write!(f, "{} {}", if low.belongs { "at least" } else { "more than" }, low.at),
            (None, Some(high)) => write!(f, "{} {}", if high.belongs { "at most" } else { "less than" }, high.at),
            (None, None) => f.write_str("anything"),
        }
    }
}

#[cfg(test)]
#[path = "band_tests.rs"]
mod tests;
