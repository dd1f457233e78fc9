//! May the wall be cut? The go/no-go decision, from what is known about the trailer and the probe readings so far.
//!
//! The check facts that it reads (the work standard sets the probes' names; these are the default ones):
//!
//! | check | its fact says |
//! |---|---|
//! | `freight-at-opening` | `value` yes, no (true or false) or cannot-be-seen; `ok` alone says none of them. The latest counts |
//! | `pilot-hole` | a pilot hole was drilled |
//! | `pilot-depth` | `value`: how deep the pilot is; needed once it was deepened |
//! | `first-probe`, `second-probe` | `value`: the depth at which the probe met something, with its unit, or `free` when it met nothing over the whole distance asked for. `uncertainty`: how far the reading may be off, when that is not the standard's |
//! | `pilot-sealed` | the pilot hole was sealed |
//! | `hole-cut`, `hole-diameter` | the wall was cut (not read here: the reconciler asks for the answer of that moment) |
//!
//! How a reading is judged. It means the whole range within its uncertainty. `clear`, or going on to the next
//! probe, needs all of that range inside the one band. `blocked` needs the reading itself inside, and nothing of the range in
//! a band that does not block. Everything else is not decidable: the wall must not be cut, and the office can look into it.
//! A reading of `2 in` is therefore not clear where 2 in is the limit: the depth may be a little less. `free` is clear,
//! because somebody stated that the probe met nothing.
//!
//! Invariants, held by the tests: a gap between two bands, and a reading near an edge, are never clear. All readings of one
//! hole count: one that blocks keeps blocking, whatever is read afterwards, so the order of two readings never matters and
//! probing again cannot improve the answer. A later reading replaces only one that could not be read, or that was marked not
//! ok without blocking. A wrong reading that blocks is for the office: a ruling on the finding, or another job.
//!
//! Deliberately not here: an `approval` changes no answer (it is about the place, not about what is behind the
//! wall), and no answer is permission: site rules, local codes and licensed practice come first.

use gladhand_facts::{Dimension, Measure};
use serde::Serialize;

use crate::names::{FREIGHT_AT_OPENING, PILOT_DEPTH, PILOT_HOLE};
use crate::requirement::{LOADS, WALLS};
use crate::situation::{Observation, Situation};
use crate::standard::Standard;
use crate::table::{Freight, Meaning, Probe, Table};

/// The answer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "answer", rename_all = "kebab-case")]
pub enum Answer {
    /// The wall may be cut, within these limits.
    Clear {
        /// What the work is limited to.
        limits: Vec<String>,
    },
    /// The wall must not be cut.
    Blocked {
        /// Why, in one sentence.
        why: String,
        /// What to put right, in order.
        make_good: Vec<String>,
    },
    /// The readings do not decide it: treated as blocked until the office has answered.
    NotDecidable {
        /// Why, in one sentence.
        why: String,
        /// Whom to ask, and what to do until then.
        ask: String,
    },
    /// Something is still to be done and recorded.
    Next {
        /// The check to record next.
        check: String,
        /// How to do it.
        how: String,
        /// What to mind before doing it.
        cautions: Vec<String>,
    },
    /// No answer until these are recorded.
    Unknown {
        /// Fields of the job, or checks.
        missing: Vec<&'static str>,
    },
}

impl Answer {
    /// Whether the wall may be cut.
    pub fn is_clear(&self) -> bool {
        matches!(self, Self::Clear { .. })
    }

    /// Whether it must not be cut: blocked, or not decidable, which is treated the same.
    pub fn is_blocked(&self) -> bool {
        matches!(self, Self::Blocked { .. } | Self::NotDecidable { .. })
    }
}

/// The judgement of a probe's readings, from the best to the worst.
enum Outcome {
    Clear,
    Next,
    Undecidable(String),
    Blocked(String),
}

/// Decides from what is known.
pub fn decide(standard: &Standard, situation: &Situation) -> Answer {
    let wall = known(situation.wall.as_deref(), &WALLS);
    let load = known(situation.load.as_deref(), &LOADS);
    let table = wall.zip(load).and_then(|(w, l)| standard.tables().table(w, l));
    let Some(table) = table else {
        let missing = [("wall", wall), ("load", load)];
        return Answer::Unknown {
            missing: missing
                .iter()
                .filter(|(_, k)| k.is_none())
                .map(|(name, _)| *name)
                .collect(),
        };
    };
    if let Some(why) = why_blocked(standard, table, situation) {
        return blocked(standard, situation, why);
    }
    let missing = missing(table, situation);
    if !missing.is_empty() {
        return Answer::Unknown { missing };
    }
    if let Some(why) = why_undecidable(standard, table, situation) {
        let ask = standard.tables().ask.clone();
        return Answer::NotDecidable { why, ask };
    }
    next_step(standard, table, situation).unwrap_or_else(|| clear(standard, table, situation))
}

fn known<'k>(given: Option<&str>, words: &[&'k str]) -> Option<&'k str> {
    words.iter().find(|w| Some(**w) == given).copied()
}

/// What blocks the cut, whatever else is still missing.
fn why_blocked(standard: &Standard, table: &Table, situation: &Situation) -> Option<String> {
    if let Some(Meaning::Blocked(why)) = &table.always {
        return Some(why.clone());
    }
    if let (Some(band), Some(thick)) = (&table.thickness, thickness(situation))
        && !band.holds(thick)
    {
        return Some(format!(
            "the wall is {thick} thick; loaded, it may be cut only when it is {band}"
        ));
    }
    if table.freight == Freight::Blocks && situation.freight_at_opening == Some(true) {
        return Some("freight stands at the opening".to_owned());
    }
    table
        .probes
        .iter()
        .find_map(|probe| match outcome(standard, probe, situation)? {
            Outcome::Blocked(why) => Some(why),
            _ => None,
        })
}

fn missing(table: &Table, situation: &Situation) -> Vec<&'static str> {
    let thickness_missing = table.thickness.is_some() && thickness(situation).is_none();
    let freight_missing = table.freight != Freight::Ignored && situation.freight_at_opening.is_none();
    let each = [("thickness", thickness_missing), (FREIGHT_AT_OPENING, freight_missing)];
    each.iter()
        .filter(|(_, is_missing)| *is_missing)
        .map(|(name, _)| *name)
        .collect()
}

/// The recorded thickness, if it is a length above zero.
fn thickness(situation: &Situation) -> Option<&Measure> {
    let sound = |t: &&Measure| t.dimension() == Dimension::Length && t.base() > 0.into();
    situation.thickness.as_ref().filter(sound)
}

fn why_undecidable(standard: &Standard, table: &Table, situation: &Situation) -> Option<String> {
    let of_probe = |probe| match outcome(standard, probe, situation)? {
        Outcome::Undecidable(why) => Some(why),
        _ => None,
    };
    let spoiled = situation.last(PILOT_HOLE) == Some(&Observation::Seen(false));
    let found = table.probes.iter().find_map(of_probe);
    found
        .or_else(|| odd_pilot_depth(standard, table, situation))
        .or_else(|| spoiled.then(|| format!("{PILOT_HOLE} was recorded as not ok")))
}

/// A recorded pilot depth at which the table has no probe: its bands say nothing about such a hole.
fn odd_pilot_depth(standard: &Standard, table: &Table, situation: &Situation) -> Option<String> {
    if table.probes.is_empty() {
        return None;
    }
    situation.observations(PILOT_DEPTH).find_map(|observed| match observed {
        Observation::At { depth, .. } => {
            let fits = table
                .probes
                .iter()
                .any(|p| is_about(standard, observed, &p.pilot_depth));
            (!fits).then(|| format!("{PILOT_DEPTH} is {depth}, and no probe is made at that depth"))
        }
        _ => None,
    })
}

/// Whether a depth is `wanted`, give or take its uncertainty.
fn is_about(standard: &Standard, observed: &Observation, wanted: &Measure) -> bool {
    match observed.span(standard.tables().uncertainty) {
        Some((low, high)) => low <= wanted.base() && wanted.base() <= high,
        None => false,
    }
}

/// The next thing to do and record, if the probes are not finished.
fn next_step(standard: &Standard, table: &Table, situation: &Situation) -> Option<Answer> {
    for (i, probe) in table.probes.iter().enumerate() {
        let read = outcome(standard, probe, situation);
        if i == 0 && read.is_none() && situation.last(PILOT_HOLE).is_none() {
            return Some(next(standard, PILOT_HOLE, &probe.drill));
        }
        let deep_enough = i == 0
            || situation
                .observations(PILOT_DEPTH)
                .any(|s| is_about(standard, s, &probe.pilot_depth));
        if !deep_enough {
            return Some(next(standard, PILOT_DEPTH, &probe.drill));
        }
        match read {
            None => return Some(next(standard, &probe.check, &probe.how)),
            Some(Outcome::Next) => {}
            Some(_) => return None,
        }
    }
    None
}

fn next(standard: &Standard, check: &str, how: &str) -> Answer {
    Answer::Next {
        check: check.to_owned(),
        how: how.to_owned(),
        cautions: standard.cautions_before(check),
    }
}

fn clear(standard: &Standard, table: &Table, situation: &Situation) -> Answer {
    let mut limits = table.limits.clone();
    match thickness(situation) {
        Some(thick) if standard.tables().inner_cut.holds(thick) => limits.extend(table.thick_wall.clone()),
        Some(_) => {}
        None => limits.push(standard.tables().thickness_unknown.clone()),
    }
    Answer::Clear { limits }
}

fn blocked(standard: &Standard, situation: &Situation, why: String) -> Answer {
    let tables = standard.tables();
    let seal = situation.has_open_pilot(standard).then(|| tables.seal.clone());
    Answer::Blocked {
        why,
        make_good: seal.into_iter().chain([tables.stand_down.clone()]).collect(),
    }
}

/// The worst of all readings of a probe; `None` when there is none. A reading that could not be read, or was marked not ok,
/// counts only if none follows it, unless it blocks.
fn outcome(standard: &Standard, probe: &Probe, situation: &Situation) -> Option<Outcome> {
    let mut worst: Option<Outcome> = None;
    let mut all = situation.observations(&probe.check).peekable();
    while let Some(observed) = all.next() {
        let this = judge(standard, probe, observed);
        let is_replaced = observed.is_doubtful() && all.peek().is_some();
        if is_replaced && !matches!(this, Outcome::Blocked(_)) {
            continue;
        }
        if worst.as_ref().is_none_or(|w| rank(&this) > rank(w)) {
            worst = Some(this);
        }
    }
    worst
}

fn rank(outcome: &Outcome) -> u8 {
    match outcome {
        Outcome::Clear => 0,
        Outcome::Next => 1,
        Outcome::Undecidable(_) => 2,
        Outcome::Blocked(_) => 3,
    }
}

fn judge(standard: &Standard, probe: &Probe, observed: &Observation) -> Outcome {
    let name = &probe.check;
    match observed {
        Observation::At { depth, doubted, .. } => match judge_depth(standard, probe, observed, depth) {
            Outcome::Clear | Outcome::Next if *doubted => {
                Outcome::Undecidable(format!("{name} is {depth}, but was marked not ok"))
            }
            outcome => outcome,
        },
        Observation::Free => match probe.rows.last().filter(|row| row.band.is_open_above()) {
            Some(row) => meaning(name, "free", &row.meaning),
            None => Outcome::Undecidable(format!(
                "{name} ran free, and the work standard does not say what that means"
            )),
        },
        Observation::Unreadable(why) => Outcome::Undecidable(format!("{name} {why}")),
        Observation::Seen(_) => Outcome::Undecidable(format!("{name} has no depth")),
    }
}

fn judge_depth(standard: &Standard, probe: &Probe, observed: &Observation, depth: &Measure) -> Outcome {
    let name = &probe.check;
    let Some((low, high)) = observed.span(standard.tables().uncertainty) else {
        return Outcome::Undecidable(format!("{name} is {depth}, which is no depth"));
    };
    let Some(row) = probe.rows.iter().find(|row| row.band.holds(depth)) else {
        return Outcome::Undecidable(format!("{name} is {depth}, which lies between two answers"));
    };
    let sure = match row.meaning {
        // A reading that blocks stays so, unless within its uncertainty it could be one that does not block.
        Meaning::Blocked(_) => {
            let goes_on = |r: &&crate::table::TableRow| !matches!(r.meaning, Meaning::Blocked(_));
            !probe.rows.iter().filter(goes_on).any(|r| r.band.touches(low, high))
        }
        _ => row.band.holds_all(low, high),
    };
    if sure {
        meaning(name, &depth.to_string(), &row.meaning)
    } else {
        Outcome::Undecidable(format!(
            "{name} is {depth}, too near to another answer for a reading of its accuracy"
        ))
    }
}

fn meaning(name: &str, read: &str, meaning: &Meaning) -> Outcome {
    match meaning {
        Meaning::Clear => Outcome::Clear,
        Meaning::Next => Outcome::Next,
        Meaning::Blocked(why) => Outcome::Blocked(format!("{name} is {read}: {why}")),
    }
}

#[cfg(test)]
#[path = "clearance_tests.rs"]
pub(crate) mod tests;

#[cfg(test)]
#[path = "clearance_props.rs"]
mod props;
