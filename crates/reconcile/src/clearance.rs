//! The clearance decision of a job, as far as given facts reach.
//!
//! The trade makes the decision. This module prepares its input: the check facts in causal order, and the fields of the job
//! that have one value. Of concurrent answers on freight at the opening the worst counts.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use gladhand_facts::{Kind, Measure, Place};
use gladhand_trade::names::{FREIGHT_AT_OPENING, PILOT_DEPTH, PILOT_HOLE, PILOT_SEALED};
use gladhand_trade::{Answer, Situation, Verdict, Wants, decide, verdict};

use crate::recorded_fact::{RecordedFact, latest};
use crate::register;
use crate::wall_history::WallHistory;
use crate::world::World;

/// The go/no-go answer from some facts of a job.
pub fn clearance(world: &World<'_>, facts: &[Arc<RecordedFact>]) -> Answer {
    let fields = register::fields(facts);
    let holders = |field: &str| fields.get(field).map_or(&[][..], Vec::as_slice);
    let thickness = match register::values(holders("thickness"), "thickness").len() {
        1 => holders("thickness").first().and_then(|w| w.fact.measure("thickness")),
        _ => None,
    };
    let history = WallHistory::of(world, facts);
    let (wall, load) = history.now();
    let mut situation = read(wall.as_deref(), load.as_deref(), thickness, &history.current());
    if thickness.is_none() {
        let disputed = holders("thickness").iter().filter_map(|w| w.fact.measure("thickness"));
        situation.disputed_thickness = disputed.collect();
    }
    let earlier = history.earlier().into_iter();
    situation.earlier = earlier
        .map(|((wall, load), facts)| read(wall.as_deref(), load.as_deref(), None, &facts))
        .collect();
    decide(world.standard, &situation)
}

/// What the check facts say, given in causal order. A reading that no later one of its check had seen stands beside these: which
/// of them came last is nothing but the order in which the logs are merged.
fn read(
    wall: Option<&str>,
    load: Option<&str>,
    thickness: Option<Measure>,
    ordered: &[Arc<RecordedFact>],
) -> Situation {
    let facts: Vec<_> = ordered.iter().map(|w| &w.fact).collect();
    let mut situation = Situation::from_facts(wall, load, thickness, &facts);
    situation.freight_at_opening = freight(ordered);
    let mut by_check: BTreeMap<String, Vec<Arc<RecordedFact>>> = BTreeMap::new();
    let read: Vec<_> = ordered.iter().filter(|w| w.is(&Kind::Check)).collect();
    let named = read.iter().filter_map(|w| Some((w.owned("check")?, *w)));
    let readings: Vec<_> = named.filter(|(check, _)| check != FREIGHT_AT_OPENING).collect();
    for (check, recorded) in &readings {
        by_check.entry(check.clone()).or_default().push((*recorded).clone());
    }
    let last: BTreeSet<Place> = by_check.values().flat_map(|all| latest(all)).map(|w| w.place).collect();
    for (reading, (_, recorded)) in situation.readings.iter_mut().zip(readings) {
        reading.stands = last.contains(&recorded.place);
    }
    situation
}

/// Freight at the opening by the latest answers: one yes is a yes, and only if all are no it is a no.
fn freight(facts: &[Arc<RecordedFact>]) -> Option<bool> {
    let answers: Vec<_> = facts
        .iter()
        .filter(|w| is_check(w, FREIGHT_AT_OPENING))
        .cloned()
        .collect();
    let each = latest(&answers).into_iter().map(|w| {
        let alone = Situation::from_facts(None, None, None, &[&w.fact]);
        alone.freight_at_opening
    });
    let each: Vec<Option<bool>> = each.collect();
    if each.contains(&Some(true)) {
        Some(true)
    } else {
        (!each.is_empty() && each.iter().all(|w| *w == Some(false))).then_some(false)
    }
}

/// Whether it is a check of that name.
pub(crate) fn is_check(recorded: &RecordedFact, name: &str) -> bool {
    recorded.is(&Kind::Check) && recorded.fact.text("check").is_some_and(|check| check == name)
}

/// Whether the clearance reads this fact.
pub(crate) fn is_reading(world: &World<'_>, recorded: &RecordedFact) -> bool {
    is_check(recorded, FREIGHT_AT_OPENING) || is_check(recorded, PILOT_SEALED) || shows_pilot_hole(world, recorded)
}

/// Whether it shows that a pilot hole was made: it says so, or it is a probe through the hole.
pub(crate) fn shows_pilot_hole(world: &World<'_>, recorded: &RecordedFact) -> bool {
    let probe = || {
        let check = recorded.owned("check").filter(|_| recorded.is(&Kind::Check));
        let requirement = check.and_then(|name| world.standard.check(&name));
        requirement.is_some_and(|r| *r.wants() == Wants::Reading)
    };
    if is_check(recorded, PILOT_HOLE) {
        !denies(world, recorded, PILOT_HOLE)
    } else {
        is_check(recorded, PILOT_DEPTH) || probe()
    }
}

/// Whether it says that the pilot hole was sealed.
pub(crate) fn says_sealed(world: &World<'_>, recorded: &RecordedFact) -> bool {
    let passes = |w: &RecordedFact| {
        let requirement = world.standard.check(PILOT_SEALED);
        requirement.is_none_or(|r| verdict(r, &w.fact).passes()) && w.fact.flag("ok") != Some(false)
    };
    is_check(recorded, PILOT_SEALED) && passes(recorded)
}

/// The facts that show that the wall was cut, by the first of the standard's checks for it that was recorded. Only the first:
/// measuring a hole that was recorded as cut is not another cut.
pub(crate) fn cuts(world: &World<'_>, facts: &[Arc<RecordedFact>]) -> Vec<Arc<RecordedFact>> {
    let shown = |name: &String| -> Vec<Arc<RecordedFact>> {
        let checks = facts.iter().filter(|w| is_check(w, name));
        checks.filter(|w| !denies(world, w, name)).cloned().collect()
    };
    let names = world.standard.cut_shown_by().iter();
    names.map(shown).find(|cuts| !cuts.is_empty()).unwrap_or_default()
}

/// Whether a check that is a yes or a no says no. A measure out of tolerance still shows that something was measured.
fn denies(world: &World<'_>, recorded: &RecordedFact, name: &str) -> bool {
    let requirement = world.standard.check(name).filter(|r| *r.wants() == Wants::Seen);
    requirement.is_some_and(|r| matches!(verdict(r, &recorded.fact), Verdict::Fails { .. }))
}
