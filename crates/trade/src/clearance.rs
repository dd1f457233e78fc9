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
//! | `second-hole-entered` | the second probe entered the hole in the liner; without it a free second probe is not clear |
//! | `seen-empty` | somebody looked inside: the trailer is empty, whatever was read before |
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
//! hole count: one that blocks keeps blocking, whatever is read afterwards, and probing again cannot improve the answer. A
//! later reading replaces only one that could not be read, that was marked not ok without blocking, or that missed the hole in
//! the liner. A wrong reading that blocks is for the office: a ruling on the finding, or another job.
//!
//! An approval by somebody else makes readings that do not decide count as clear, with all limits of the table. It never
//! outweighs a reading that blocks, and replaces nothing that is still to be recorded. Which approvals count is the caller's
//! to find out: [`Situation::approval`] is one that does.
//!
//! Deliberately not here: no answer is permission. Site rules, local codes and licensed practice come first.

use gladhand_facts::{Dimension, Measure};

use crate::answer::{Answer, Approval};
use crate::changed::objection;
use crate::judged::{Entered, Outcome, entered, outcome};
use crate::names::{FREIGHT_AT_OPENING, PILOT_DEPTH, PILOT_HOLE, SECOND_HOLE_ENTERED, THICKNESS};
use crate::requirement::{LOADS, WALLS};
use crate::situation::{Observation, Situation};
use crate::standard::Standard;
use crate::table::{Freight, Meaning, Probe, Table};

/// Why it cannot be decided, and the check that may decide it when it is recorded anew.
struct Doubt {
    why: String,
    again: Option<String>,
    may_approve: bool,
}

impl Doubt {
    fn new(why: String) -> Self {
        Self {
            why,
            again: None,
            may_approve: true,
        }
    }

    fn again(check: &str, why: String) -> Self {
        Self {
            again: Some(check.to_owned()),
            ..Self::new(why)
        }
    }
}

/// Decides from what is known.
///
/// A reading belongs to the wall and load under which it was taken. One that blocked or did not decide under another is
/// outweighed only by everything being probed again, or, on an empty trailer, by somebody who looked inside.
pub fn decide(standard: &Standard, situation: &Situation) -> Answer {
    let now = decide_now(standard, situation);
    if matches!(now, Answer::Blocked { .. }) {
        return now;
    }
    objection(standard, situation, &now).unwrap_or(now)
}

/// The answer by the wall and load as they stand, and what was read under them.
pub(crate) fn decide_now(standard: &Standard, situation: &Situation) -> Answer {
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
    // Before anything that is missing: an undecided reading is as good as a blocked one, whatever is recorded later.
    let doubt = why_undecidable(standard, table, situation);
    let approval = situation.approval.as_ref();
    if let Some(doubt) = &doubt
        && !(doubt.may_approve && approval.is_some())
    {
        return Answer::NotDecidable {
            why: doubt.why.clone(),
            ask: standard.tables().ask.clone(),
            again: doubt.again.clone(),
            may_approve: doubt.may_approve,
        };
    }
    let missing = missing(table, situation);
    if !missing.is_empty() {
        return Answer::Unknown { missing };
    }
    if doubt.is_some() {
        return clear(standard, table, situation, approval);
    }
    next_step(standard, table, situation).unwrap_or_else(|| clear(standard, table, situation, None))
}

fn known<'k>(given: Option<&str>, words: &[&'k str]) -> Option<&'k str> {
    words.iter().find(|w| Some(**w) == given).copied()
}

/// What blocks the cut, whatever else is still missing.
fn why_blocked(standard: &Standard, table: &Table, situation: &Situation) -> Option<String> {
    if let Some(Meaning::Blocked(why)) = &table.always {
        return Some(why.clone());
    }
    if let Some((why, false)) = wrong_thickness(standard, table, situation) {
        return Some(why);
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
    // Where only thinner walls are clear the probes find it out.
    let thickness_missing = table.needs_thickness && thickness(situation).is_none();
    let freight_missing = table.freight != Freight::Ignored && situation.freight_at_opening.is_none();
    let each = [(THICKNESS, thickness_missing), (FREIGHT_AT_OPENING, freight_missing)];
    each.iter()
        .filter(|(_, is_missing)| *is_missing)
        .map(|(name, _)| *name)
        .collect()
}

/// Why the recorded thickness is not clear, and whether within its uncertainty it could be.
fn wrong_thickness(standard: &Standard, table: &Table, situation: &Situation) -> Option<(String, bool)> {
    wrong(standard, table, thickness(situation)?)
}

fn wrong(standard: &Standard, table: &Table, thick: &Measure) -> Option<(String, bool)> {
    let band = table.thickness.as_ref()?;
    let give = standard.tables().uncertainty;
    let (low, high) = (thick.minus(&give)?.base(), thick.plus(&give)?.base());
    let only = format!("the wall is {thick} thick; loaded, it may be cut only when it is {band}");
    match (band.holds_all(low, high), band.touches(low, high)) {
        (true, _) => None,
        (false, false) => Some((only, false)),
        (false, true) => Some((
            format!("{only}, and that is too near for a measure of its accuracy"),
            true,
        )),
    }
}

/// The recorded thickness, if it is a length above zero.
fn thickness(situation: &Situation) -> Option<&Measure> {
    let sound = |t: &&Measure| t.dimension() == Dimension::Length && t.base() > 0.into();
    situation.thickness.as_ref().filter(sound)
}

fn why_undecidable(standard: &Standard, table: &Table, situation: &Situation) -> Option<Doubt> {
    let thickness = || wrong_thickness(standard, table, situation).map(|(why, _)| Doubt::new(why));
    let disputed = || disputed_thickness(standard, table, situation);
    let of_probe = |probe| doubt_of_probe(standard, probe, situation);
    let spoiled = situation
        .stand(PILOT_HOLE)
        .any(|said| *said == Observation::Seen(false));
    thickness()
        .or_else(disputed)
        .or_else(|| table.probes.iter().find_map(of_probe))
        .or_else(|| odd_pilot_depth(standard, table, situation).map(Doubt::new))
        .or_else(|| spoiled.then(|| Doubt::new(format!("{PILOT_HOLE} was recorded as not ok"))))
}

/// Several thicknesses of which one is too much. That is settled by measuring, not by an approval.
fn disputed_thickness(standard: &Standard, table: &Table, situation: &Situation) -> Option<Doubt> {
    let disputed = &situation.disputed_thickness;
    disputed.iter().find(|thick| wrong(standard, table, thick).is_some())?;
    let each: Vec<String> = disputed.iter().map(ToString::to_string).collect();
    let why = format!("{THICKNESS} is {}, recorded beside each other", each.join(" and "));
    Some(Doubt {
        may_approve: false,
        ..Doubt::again(THICKNESS, why)
    })
}

fn doubt_of_probe(standard: &Standard, probe: &Probe, situation: &Situation) -> Option<Doubt> {
    match outcome(standard, probe, situation)? {
        Outcome::Undecidable(why) => Some(Doubt::new(why)),
        Outcome::Missed(why) => Some(Doubt::again(&probe.check, why)),
        Outcome::Clear if entered(standard, probe, situation) == Entered::Denied => {
            let why = format!(
                "{SECOND_HOLE_ENTERED} was recorded as not ok: make sure that the probe enters it, and probe again"
            );
            Some(Doubt::again(&probe.check, why))
        }
        _ => None,
    }
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
            Some(_) if entered(standard, probe, situation) == Entered::Yes => return None,
            Some(_) => return Some(next(standard, SECOND_HOLE_ENTERED, probe.enters.as_deref()?)),
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

fn clear(standard: &Standard, table: &Table, situation: &Situation, approval: Option<&Approval>) -> Answer {
    let mut limits = table.limits.clone();
    match thickness(situation) {
        Some(thick) if standard.tables().inner_cut.holds(thick) => limits.extend(table.thick_wall.clone()),
        Some(_) => {}
        // Where only thinner walls are clear, the probe has found that out.
        None if table.thickness.is_some() => {}
        None => limits.push(standard.tables().thickness_unknown.clone()),
    }
    Answer::Clear {
        limits,
        by_approval: approval.cloned(),
    }
}

fn blocked(standard: &Standard, situation: &Situation, why: String) -> Answer {
    let tables = standard.tables();
    let seal = situation.has_open_pilot(standard).then(|| tables.seal.clone());
    Answer::Blocked {
        why,
        make_good: seal.into_iter().chain([tables.stand_down.clone()]).collect(),
    }
}

#[cfg(test)]
#[path = "clearance_tests.rs"]
pub(crate) mod tests;

#[cfg(test)]
#[path = "clearance_change_tests.rs"]
mod change_tests;

#[cfg(test)]
#[path = "clearance_liner_tests.rs"]
mod liner_tests;

#[cfg(test)]
#[path = "clearance_approval_tests.rs"]
mod approval_tests;

#[cfg(test)]
#[path = "clearance_props.rs"]
mod props;
