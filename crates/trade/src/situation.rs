//! What is known about one trailer when the question "may the wall be cut?" is asked.

use gladhand_facts::measure::Exact;
use gladhand_facts::{Dimension, Fact, Kind, Measure};

use crate::answer::Approval;
use crate::names::{
    APPROVAL, FREIGHT_AT_OPENING, PILOT_DEPTH, PILOT_HOLE, PILOT_SEALED, SECOND_HOLE_ENTERED, SEEN_EMPTY, THICKNESS,
};
use crate::standard::Standard;

/// What a check fact of the clearance says.
#[derive(Debug, Clone, PartialEq)]
pub enum Observation {
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
    /// Something was done or seen (true), or was not as it should be (false).
    Seen(bool),
    /// The reading cannot be used; it says why.
    Unreadable(String),
}

impl Observation {
    /// Reads the check fact of a probe.
    ///
    /// A depth needs a unit. `free` must be written: `ok: true` without a value does not say how deep the probe went, and
    /// is unreadable.
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

    /// Whether it is no reading, or one that was marked not ok.
    pub(crate) fn is_doubtful(&self) -> bool {
        !matches!(self, Self::Free | Self::At { doubted: false, .. })
    }

    /// The range of depths that a reading may mean, in millimetres; `None` when it is no depth.
    pub(crate) fn span(&self, default: Measure) -> Option<(Exact, Exact)> {
        let Self::At { depth, uncertainty, .. } = self else {
            return None;
        };
        let give = uncertainty.unwrap_or(default);
        let sound = depth.dimension() == Dimension::Length && depth.base() >= 0.into() && give.base() >= 0.into();
        let (low, high) = (depth.minus(&give)?, depth.plus(&give)?);
        sound.then(|| (low.base(), high.base()))
    }
}

fn unreadable(why: &str) -> Observation {
    Observation::Unreadable(why.to_owned())
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

/// One check fact, reduced to what the clearance reads.
#[derive(Debug, Clone, PartialEq)]
pub struct WallReading {
    /// The name of the check.
    pub check: String,
    /// What it says.
    pub observed: Observation,
    /// Whoever recorded the later readings of the check had not seen this one: none of them replaces it.
    pub stands: bool,
}

/// What is known so far. Readings are in the order in which they were made.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Situation {
    /// The wall, if one value of it is known.
    pub wall: Option<String>,
    /// The load, if one value of it is known.
    pub load: Option<String>,
    /// The thickness of the wall, if one value of it is known.
    pub thickness: Option<Measure>,
    /// The thicknesses that stand beside each other, where there are several; then none of them is known.
    pub disputed_thickness: Vec<Measure>,
    /// Whether freight was seen at the opening, if that was recorded. Where nothing can be seen from inside, none was.
    pub freight_at_opening: Option<bool>,
    /// The readings.
    pub readings: Vec<WallReading>,
    /// What was read under another wall or load, or before one of them was changed and set back: each with the wall and load
    /// under which it was read. What somebody who then saw the trailer empty had in view is not in here.
    pub earlier: Vec<Situation>,
    /// An approval of readings that do not decide, by somebody who may approve them and had all of them in view.
    pub approval: Option<Approval>,
}

impl Situation {
    /// From a job's fields and its check facts in causal order. Facts of other kinds are ignored. A field with different
    /// concurrent values is not known: pass `None` for it.
    pub fn from_facts(wall: Option<&str>, load: Option<&str>, thickness: Option<Measure>, facts: &[&Fact]) -> Self {
        let mut situation = Self {
            wall: wall.map(str::to_owned),
            load: load.map(str::to_owned),
            thickness,
            ..Self::default()
        };
        for fact in facts.iter().filter(|f| *f.kind() == Kind::Check) {
            if let Some(check) = fact.text("check") {
                situation.add(&check, fact);
            }
        }
        situation
    }

    fn add(&mut self, check: &str, fact: &Fact) {
        let observed = match check {
            FREIGHT_AT_OPENING => {
                self.freight_at_opening = freight(fact);
                return;
            }
            // A hole counts as drilled unless it is denied, and as sealed only when it is affirmed: the safe side of each.
            PILOT_HOLE => Observation::Seen(!is_denied(fact)),
            PILOT_SEALED => Observation::Seen(!is_denied(fact) && is_affirmed(fact)),
            SECOND_HOLE_ENTERED | SEEN_EMPTY if is_denied(fact) || is_affirmed(fact) => {
                Observation::Seen(!is_denied(fact))
            }
            // One register with the field of the job, and not about what a probe found.
            THICKNESS | APPROVAL => return,
            _ => Observation::of(fact),
        };
        self.readings.push(WallReading {
            check: check.to_owned(),
            observed,
            stands: false,
        });
    }

    /// What was read for `check`, in order.
    pub(crate) fn observations<'s>(&'s self, check: &'s str) -> impl Iterator<Item = &'s Observation> {
        self.readings
            .iter()
            .filter(move |r| r.check == check)
            .map(|r| &r.observed)
    }

    /// What was read last for `check`.
    pub(crate) fn last<'s>(&'s self, check: &'s str) -> Option<&'s Observation> {
        self.observations(check).last()
    }

    /// What stands for `check`: the last answer, and those that nobody who answered later had seen.
    pub(crate) fn stand<'s>(&'s self, check: &'s str) -> impl Iterator<Item = &'s Observation> {
        let of_check = move |r: &&WallReading| r.check == check;
        let last = self.readings.iter().rfind(of_check);
        let beside = self.readings.iter().filter(of_check).filter(|r| r.stands);
        beside.chain(last).map(|r| &r.observed)
    }

    /// Whether a pilot hole was drilled (a probe into it shows that too) and not sealed afterwards.
    pub fn has_open_pilot(&self, standard: &Standard) -> bool {
        let probes: Vec<&str> = standard.tables().probe_checks().collect();
        self.readings
            .iter()
            .fold(false, |open, reading| match reading.check.as_str() {
                PILOT_SEALED if reading.observed == Observation::Seen(true) => false,
                PILOT_HOLE | PILOT_DEPTH => true,
                check => open || probes.contains(&check),
            })
    }
}

/// Freight at the opening. `ok` alone says neither yes nor no. A yes blocks however it is marked; a no that is marked not ok
/// is not known.
fn freight(fact: &Fact) -> Option<bool> {
    let in_doubt = fact.flag("ok") == Some(false);
    let seen = yes_or_no(fact).or_else(|| cannot_be_seen(fact).then_some(false));
    seen.filter(|seen| *seen || !in_doubt)
}

/// Whether the value says that nothing can be seen from inside: then the probes decide.
pub(crate) fn cannot_be_seen(fact: &Fact) -> bool {
    fact.text("value")
        .is_some_and(|t| t.eq_ignore_ascii_case("cannot-be-seen"))
}

/// A `value` of true or false, or the word for it.
pub(crate) fn yes_or_no(fact: &Fact) -> Option<bool> {
    let value = fact.get("value")?;
    if let Some(truth) = value.as_bool() {
        return Some(truth);
    }
    match value.as_str()?.trim().to_ascii_lowercase().as_str() {
        "yes" | "true" => Some(true),
        "no" | "false" => Some(false),
        _ => None,
    }
}

fn is_denied(fact: &Fact) -> bool {
    fact.flag("ok") == Some(false) || yes_or_no(fact) == Some(false)
}

fn is_affirmed(fact: &Fact) -> bool {
    fact.flag("ok") == Some(true) || yes_or_no(fact) == Some(true)
}

#[cfg(test)]
#[path = "situation_tests.rs"]
mod tests;
