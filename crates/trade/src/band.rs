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
    ends: Ends,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Ends {
    From(Edge),
    UpTo(Edge),
    /// Of one dimension, and not empty.
    Between(Edge, Edge),
}

impl Band {
    /// Reads the band in `section`; `None` when it has no key of a band.
    pub(crate) fn read(section: &Section<'_>, wanted: Option<Dimension>) -> Result<Option<Self>, StandardError> {
        let end = |key, belongs| {
            let measure = section.measure_opt(key, wanted)?;
            Ok::<_, StandardError>(measure.map(|at| Edge { at, belongs }))
        };
        let lowers = [end("at-least", true)?, end("over", false)?];
        let uppers = [end("at-most", true)?, end("below", false)?];
        let exactly = end("exactly", true)?;
        let too_many = |key| section.wrong(key, "contradicts the other end beside it", "keep one of the two");
        let upper_key = if uppers[0].is_some() { "at-most" } else { "below" };
        let ends = match (lowers, uppers, exactly) {
            ([Some(_), Some(_)], _, _) => return Err(too_many("over")),
            (_, [Some(_), Some(_)], _) => return Err(too_many("below")),
            ([None, None], [None, None], Some(only)) => Ends::Between(only, only),
            (_, _, Some(_)) => return Err(too_many("exactly")),
            ([a, b], [c, d], None) => match (a.or(b), c.or(d)) {
                (Some(low), Some(high)) => between(section, upper_key, low, high)?,
                (Some(low), None) => Ends::From(low),
                (None, Some(high)) => Ends::UpTo(high),
                (None, None) => return Ok(None),
            },
        };
        Ok(Some(Self { ends }))
    }

    /// `value` give or take `tolerance`, both ends included; `None` when the dimensions differ.
    pub(crate) fn around(value: Measure, tolerance: Measure) -> Option<Self> {
        let edge = |at| Edge { at, belongs: true };
        let (low, high) = (value.minus(&tolerance)?, value.plus(&tolerance)?);
        Some(Self {
            ends: Ends::Between(edge(low), edge(high)),
        })
    }

    /// Everything larger than `limit`.
    pub(crate) fn more_than(limit: Measure) -> Self {
        Self {
            ends: Ends::From(Edge {
                at: limit,
                belongs: false,
            }),
        }
    }

    /// Everything up to `limit`, the limit included.
    pub(crate) fn up_to(limit: Measure) -> Self {
        Self {
            ends: Ends::UpTo(Edge {
                at: limit,
                belongs: true,
            }),
        }
    }

    /// Everything smaller than `limit`.
    pub(crate) fn less_than(limit: Measure) -> Self {
        Self {
            ends: Ends::UpTo(Edge {
                at: limit,
                belongs: false,
            }),
        }
    }

    /// The dimension of its measures.
    pub fn dimension(&self) -> Dimension {
        let (Ends::From(edge) | Ends::UpTo(edge) | Ends::Between(edge, _)) = self.ends;
        edge.at.dimension()
    }

    fn lower(&self) -> Option<Edge> {
        match self.ends {
            Ends::From(low) | Ends::Between(low, _) => Some(low),
            Ends::UpTo(_) => None,
        }
    }

    fn upper(&self) -> Option<Edge> {
        match self.ends {
            Ends::UpTo(high) | Ends::Between(_, high) => Some(high),
            Ends::From(_) => None,
        }
    }

    /// Where `measure` lies; `None` when it is of another dimension.
    pub fn side(&self, measure: &Measure) -> Option<Side> {
        (measure.dimension() == self.dimension()).then(|| self.side_of(measure.base()))
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

    /// Whether it holds one measure only.
    pub(crate) fn is_point(&self) -> bool {
        matches!(self.ends, Ends::Between(low, high) if low.at == high.at)
    }

    /// Whether it has no upper end.
    pub(crate) fn is_open_above(&self) -> bool {
        self.upper().is_none()
    }

    /// Whether every measure of `self` is smaller than every measure of `other`.
    pub(crate) fn is_before(&self, other: &Self) -> bool {
        match (self.upper(), other.lower()) {
            (Some(high), Some(low)) => high.at < low.at || (high.at == low.at && !(high.belongs && low.belongs)),
            _ => false,
        }
    }

    fn side_of(&self, base: Exact) -> Side {
        let under = self.lower().is_some_and(|e| {
            if e.belongs {
                base < e.at.base()
            } else {
                base <= e.at.base()
            }
        });
        let over = self.upper().is_some_and(|e| {
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
        match self.ends {
            Ends::Between(low, high) if low.at == high.at => write!(f, "exactly {}", low.at),
            Ends::Between(low, high) => {
                let from = if low.belongs { "" } else { "over " };
                let to = if high.belongs { "" } else { "just under " };
                write!(f, "{from}{} to {to}{}", low.at, high.at)
            }
            Ends::From(low) => write!(f, "{} {}", if low.belongs { "at least" } else { "more than" }, low.at),
            Ends::UpTo(high) => write!(f, "{} {}", if high.belongs { "at most" } else { "less than" }, high.at),
        }
    }
}

fn between(section: &Section<'_>, key: &str, low: Edge, high: Edge) -> Result<Ends, StandardError> {
    if low.at.dimension() != high.at.dimension() {
        return Err(section.wrong(
            key,
            "is of another kind than the lower end",
            "use the same kind of unit",
        ));
    }
    let empty = high.at < low.at || (high.at == low.at && !(low.belongs && high.belongs));
    if empty {
        return Err(section.wrong(key, "leaves nothing above the lower end", "write a larger upper end"));
    }
    Ok(Ends::Between(low, high))
}

#[cfg(test)]
#[path = "band_tests.rs"]
mod tests;
