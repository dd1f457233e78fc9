//! The clearance decision of a job, as far as given facts reach.
//!
//! The trade makes the decision. This module prepares its input: the check facts in causal order, and the fields of the job
//! that have one value. Of concurrent answers on freight at the opening the worst counts. Where the readings do not decide, it looks
//! for an approval that counts.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use gladhand_facts::{Kind, Measure, Place};
use gladhand_trade::names::{APPROVAL, FREIGHT_AT_OPENING, PILOT_SEALED, SEEN_EMPTY, THICKNESS};
use gladhand_trade::{Answer, Approval, Situation, decide};

use crate::approvals::{Approvals, Approved};
use crate::as_seen::as_seen;
use crate::counting::Withdrawal;
use crate::readings::{cuts, is_check};
use crate::recorded_fact::{RecordedFact, earliest, latest};
use crate::register;
use crate::thickness;
use crate::wall_history::WallHistory;
use crate::world::World;

/// The go/no-go answer from some facts of a job.
pub fn clearance(world: &World<'_>, facts: &[Arc<RecordedFact>]) -> Answer {
    clearance_before(world, facts, earliest(&cuts(world, facts)))
}

/// The answer that whoever recorded `cut` had in view, by `facts` and what was withdrawn of them out of his view. Nobody approves his
/// own cut.
pub(crate) fn clearance_at(
    world: &World<'_>,
    facts: &[Arc<RecordedFact>],
    withdrawn: &[Withdrawal],
    cut: &Arc<RecordedFact>,
) -> Answer {
    clearance_for(world, &as_seen(facts, withdrawn, cut), cut)
}

/// The same by the facts that whoever recorded `cut` had in view.
pub(crate) fn clearance_for(world: &World<'_>, seen: &[Arc<RecordedFact>], cut: &Arc<RecordedFact>) -> Answer {
    clearance_before(world, seen, vec![cut.clone()])
}

/// The answer by `facts`, where an approval must be before `cuts`.
fn clearance_before(world: &World<'_>, facts: &[Arc<RecordedFact>], cuts: Vec<Arc<RecordedFact>>) -> Answer {
    let thickness = thickness::holders(facts);
    let history = WallHistory::of(world, facts);
    let (wall, load) = history.now();
    let current = history.current();
    let known = thickness::known(&thickness);
    let mut situation = read(wall.as_deref(), load.as_deref(), known, &current);
    if known.is_none() {
        situation.disputed_thickness = thickness::measures(&thickness);
    }
    let earlier = history.earlier().into_iter();
    situation.earlier = earlier
        .map(|((wall, load), facts)| read(wall.as_deref(), load.as_deref(), None, &facts))
        .collect();
    let answer = decide(world.standard, &situation);
    if !matches!(answer, Answer::NotDecidable { may_approve: true, .. }) {
        return answer;
    }
    let approvals = Approvals::among(facts, cuts);
    situation.approval = approval(world, facts, &approvals, [current, thickness].concat());
    decide(world.standard, &situation)
}

/// An approval of readings that do not decide. It must have seen all that the answer rests on, wall and load too; who recorded these
/// two may approve.
fn approval(
    world: &World<'_>,
    facts: &[Arc<RecordedFact>],
    approvals: &Approvals,
    mut approved: Vec<Arc<RecordedFact>>,
) -> Option<Approval> {
    approved.retain(|w| !is_check(w, PILOT_SEALED) && !is_check(w, SEEN_EMPTY));
    let counting = approvals.weigh(world, Approved::Reading, &approved).counting?;
    let fields = register::fields(facts);
    let holders = ["wall", "load"]
        .into_iter()
        .filter_map(|field| fields.get(field))
        .flatten();
    let has_seen_fields = holders.into_iter().all(|w| w.happens_before(&counting));
    let by = counting.owned("by").filter(|_| has_seen_fields)?;
    Some(Approval {
        by,
        fact: counting.fact.id(),
    })
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
    let is_read = |check: &str| ![FREIGHT_AT_OPENING, THICKNESS, APPROVAL].contains(&check);
    let readings: Vec<_> = named.filter(|(check, _)| is_read(check)).collect();
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
