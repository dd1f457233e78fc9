//! What is known about one trailer when the question "may the wall be cut?" is asked.

use gladhand_facts::{Dimension, Fact, Measure};

/// What a probe reading says.
#[derive(Debug, Clone, PartialEq)]
pub enum Saw {
    /// The probe met something at this depth.
    At {
        /// The depth.
        depth: Measure,
        /// How far the reading may be off, when the reading carries its own uncertainty.
        uncertainty: Option<Measure>,
        /// The fact was marked not ok: it never helps towards a clear answer.
        doubted: bool,
    },
    /// The probe met nothing over the whole distance that the standard asks for.
    Free,
    /// The reading cannot be used; it says why.
    Unreadable(String),
}

impl Saw {
    /// Reads the check fact of a probe.
    ///
    /// A depth needs a unit. `free` is a word that somebody has to write: `ok: true` without a value says that
    /// someone was content, not how deep the probe went, and is unreadable.
    pub fn of(fact: &Fact) -> Self {
        let doubted = fact.flag("ok") == Some(false);
        let said_free = fact.text("value").is_some_and(|t| t.eq_ignore_ascii_case("free"));
        if said_free && doubted {
            return unreadable("says both 'free' and not ok; probe again and record one of them");
        }
        if said_free {
            return Self::Free;
        }
        let Some(depth) = fact.measure("value").filter(|m| m.dimension() == Dimension::Length) else {
            return unreadable("has no depth with a unit; record a value such as '3/4 in', or 'free'");
        };
        if depth.base() < 0.into() {
            return unreadable("has a depth below zero; probe again and record it");
        }
        match own_uncertainty(fact) {
            Some(uncertainty) => Self::At {
                depth,
                uncertainty,
                doubted,
            },
            None => unreadable("has an uncertainty that cannot be read; write a length such as '1/32 in'"),
        }
    }
}

fn unreadable(why: &str) -> Saw {
    Saw::Unreadable(why.to_owned())
}

/// The reading's own uncertainty: `Some(None)` when it has none, `None` when it cannot be read.
fn own_uncertainty(fact: &Fact) -> Option<Option<Measure>> {
    let Some(value) = fact.get("uncertainty").filter(|v| !v.is_null()) else {
        return Some(None);
    };
    let alone = || Measure::from_json(value, None).ok();
    let measure = fact.measure("uncertainty").or_else(alone)?;
    let sound = measure.dimension() == Dimension::Length && measure.base() >= 0.into();
    sound.then_some(Some(measure))
}
