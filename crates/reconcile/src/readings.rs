//! Which facts of a job are about the hole in the wall: readings, pilot holes, seals, cuts.
//!
//! Not here: what they mean for the cut.

use std::sync::Arc;

use gladhand_trade::names::{FREIGHT_AT_OPENING, PILOT_DEPTH, PILOT_HOLE, PILOT_SEALED};
use gladhand_trade::{Verdict, Wants, verdict};

use crate::recorded_fact::RecordedFact;
use crate::world::World;

/// Whether it is a check of that name.
pub fn is_check(recorded: &RecordedFact, name: &str) -> bool {
    recorded.fact.check_name() == Some(name)
}

/// Whether the clearance reads this fact.
pub fn is_reading(world: &World<'_>, recorded: &RecordedFact) -> bool {
    let is_read = |check: &str| matches!(check, FREIGHT_AT_OPENING | PILOT_SEALED);
    let check = recorded.fact.check_name();
    check.is_some_and(|check| is_read(check) || shows_hole(world, recorded, check))
}

/// Whether it shows that a pilot hole was made: it says so, or it is a probe through the hole.
pub fn shows_pilot_hole(world: &World<'_>, recorded: &RecordedFact) -> bool {
    let check = recorded.fact.check_name();
    check.is_some_and(|check| shows_hole(world, recorded, check))
}

fn shows_hole(world: &World<'_>, recorded: &RecordedFact, check: &str) -> bool {
    let is_probe = || {
        let requirement = world.standard.check(check);
        requirement.is_some_and(|r| *r.wants() == Wants::Reading)
    };
    match check {
        PILOT_HOLE => !denies(world, recorded, PILOT_HOLE),
        PILOT_DEPTH => true,
        _ => is_probe(),
    }
}

/// Whether it says that the pilot hole was sealed.
pub fn says_sealed(world: &World<'_>, recorded: &RecordedFact) -> bool {
    let passes = |w: &RecordedFact| {
        let requirement = world.standard.check(PILOT_SEALED);
        requirement.is_none_or(|r| verdict(r, &w.fact).passes()) && w.fact.flag("ok") != Some(false)
    };
    is_check(recorded, PILOT_SEALED) && passes(recorded)
}

/// The facts that show that the wall was cut, by the first of the standard's checks for it that was recorded. Only the first:
/// measuring a hole that was recorded as cut is not another cut.
pub fn cuts(world: &World<'_>, facts: &[Arc<RecordedFact>]) -> Vec<Arc<RecordedFact>> {
    let names = || world.standard.cut_shown_by().iter();
    let may_show = |w: &&Arc<RecordedFact>| {
        w.fact
            .check_name()
            .is_some_and(|check| names().any(|name| name == check))
    };
    let checks: Vec<&Arc<RecordedFact>> = facts.iter().filter(may_show).collect();
    let shown = |name: &String| -> Vec<Arc<RecordedFact>> {
        let checks = checks.iter().filter(|w| is_check(w, name));
        let shown = checks.filter(|w| !denies(world, w, name));
        shown.map(|w| Arc::clone(w)).collect()
    };
    let names = names();
    names.map(shown).find(|cuts| !cuts.is_empty()).unwrap_or_default()
}

/// Whether a check that is a yes or a no says no. A measure out of tolerance still shows that something was measured.
fn denies(world: &World<'_>, recorded: &RecordedFact, name: &str) -> bool {
    let requirement = world.standard.check(name).filter(|r| *r.wants() == Wants::Seen);
    requirement.is_some_and(|r| matches!(verdict(r, &recorded.fact), Verdict::Fails { .. }))
}

/// The facts that the recorder of `deed` had in view.
pub fn in_view(facts: &[Arc<RecordedFact>], deed: &RecordedFact) -> Vec<Arc<RecordedFact>> {
    facts.iter().filter(|w| w.happens_before(deed)).cloned().collect()
}
