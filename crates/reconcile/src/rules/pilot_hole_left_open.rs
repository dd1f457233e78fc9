//! A pilot hole was made, the answer is blocked or not decidable or the job was stood down, and no later check says it was sealed.
//!
//! Only a cut that was clear replaces a pilot hole: one without clearance settles nothing. An approval, or another reading, may put
//! right what stood open.
//!
//! Standing: the pilot hole clashes with the stand-downs of the job. `-` when the wall is blocked and nobody stood the job down: then
//! only the seal is missing.

use std::sync::Arc;

use gladhand_facts::Kind;
use gladhand_trade::Answer;
use gladhand_trade::names::{APPROVAL, SECOND_HOLE_ENTERED, SEEN_EMPTY};

use super::rule::{Rule, usual_rights};
use crate::awareness::Awareness;
use crate::case::Case;
use crate::clearance::clearance;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::readings::{cuts, in_view, is_check, is_reading, says_sealed, shows_pilot_hole};
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::wall::{NoCut, OpenPilotHole};
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::thickness;
use crate::world::World;

pub(super) struct PilotHoleLeftOpen;

impl Rule for PilotHoleLeftOpen {
    fn name(&self) -> &'static str {
        "pilot-hole-left-open"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        let is_clear = |cut: &Arc<RecordedFact>| case.answer_at(world, cut).is_clear();
        Holes::read(world, &job.facts, &is_clear)?.draft(world, job)
    }

    /// What lets the wall be cut after all, or revives the job.
    fn rights(&self, world: &World<'_>, case: &Case) -> Vec<Arc<RecordedFact>> {
        let mut rights = usual_rights(world, case);
        if let Some(job) = case.job() {
            let overtaking = job.facts.iter().filter(|w| overtakes(world, case, job, w));
            rights.extend(overtaking.cloned());
        }
        rights
    }
}

/// Pilot holes over which no camera hole will be cut, and why.
struct Holes {
    open: Vec<Arc<RecordedFact>>,
    sealed: Vec<Arc<RecordedFact>>,
    seals: Vec<Arc<RecordedFact>>,
    stood_down: Vec<Arc<RecordedFact>>,
    cause: NoCut,
}

impl Holes {
    /// `None` where there is no such hole, or where one may be cut.
    fn read(
        world: &World<'_>,
        facts: &[Arc<RecordedFact>],
        is_clear: &dyn Fn(&Arc<RecordedFact>) -> bool,
    ) -> Option<Self> {
        let pilots = left_uncut(world, facts, is_clear);
        if pilots.is_empty() {
            return None;
        }
        let stood_down = stand_downs(facts);
        let cause = cause(world, facts, &stood_down)?;
        let seals: Vec<_> = facts.iter().filter(|w| says_sealed(world, w)).cloned().collect();
        let is_sealed = |p: &Arc<RecordedFact>| seals.iter().any(|s| world.clocks.before(p, s));
        let (sealed, open) = pilots.into_iter().partition(is_sealed);
        Some(Self {
            open,
            sealed,
            seals,
            stood_down,
            cause,
        })
    }

    /// The finding about them; it is cleared when they are sealed.
    fn draft(self, world: &World<'_>, job: &JobView) -> Option<Draft> {
        let is_sealed = self.open.is_empty();
        let (pilots, seals) = if is_sealed {
            (self.sealed, self.seals)
        } else {
            (self.open, Vec::new())
        };
        let awareness = Awareness::between(&pilots, &self.stood_down);
        let reason = Reason::PilotHoleLeftOpen(OpenPilotHole {
            pilot: FactRef::of(pilots.first()?),
            cause: self.cause,
            knowledge: awareness.knowledge(world),
            sealed_by: FactRef::all(&seals),
        });
        let draft = Draft::new(Severity::Stop, [job.key.clone()], reason)
            .made_by([pilots, self.stood_down].concat())
            .standing(awareness.standing())
            .cleared_by(seals);
        Some(draft)
    }
}

/// Whether a hole stood open in the view of whoever recorded it, and does not any more with it.
fn overtakes(world: &World<'_>, case: &Case, job: &JobView, recorded: &Arc<RecordedFact>) -> bool {
    if !may_overtake(world, recorded) {
        return false;
    }
    let stands_open = |view: &[Arc<RecordedFact>]| {
        let is_clear = |cut: &Arc<RecordedFact>| case.answer_among(world, view, cut).is_clear();
        Holes::read(world, view, &is_clear).is_some()
    };
    let mut view = in_view(&job.facts, recorded);
    let stood_open = stands_open(&view);
    view.push(recorded.clone());
    stood_open && !stands_open(&view)
}

/// What can turn a no into a yes, or revive a job that was stood down.
fn may_overtake(world: &World<'_>, recorded: &RecordedFact) -> bool {
    let is_said = [APPROVAL, SECOND_HOLE_ENTERED, SEEN_EMPTY]
        .iter()
        .any(|name| is_check(recorded, name));
    let is_field = || recorded.fact.text("wall").is_some() || recorded.fact.text("load").is_some();
    is_said
        || is_reading(world, recorded)
        || thickness::sets(recorded)
        || recorded.is(&Kind::SignOff)
        || (recorded.is(&Kind::Job) && is_field())
}

/// The facts that show a pilot hole over which no camera hole was cut later that was clear, or clear by approval, as its recorder had
/// the wall in view.
fn left_uncut(
    world: &World<'_>,
    facts: &[Arc<RecordedFact>],
    is_clear: &dyn Fn(&Arc<RecordedFact>) -> bool,
) -> Vec<Arc<RecordedFact>> {
    let mut pilots: Vec<_> = facts.iter().filter(|w| shows_pilot_hole(world, w)).cloned().collect();
    if !pilots.is_empty() {
        let mut cuts = cuts(world, facts);
        cuts.retain(is_clear);
        pilots.retain(|p| !cuts.iter().any(|cut| world.clocks.before(p, cut)));
    }
    pilots
}

/// The stand-downs that no sign-off followed.
fn stand_downs(facts: &[Arc<RecordedFact>]) -> Vec<Arc<RecordedFact>> {
    let of_kind = |kind: Kind| facts.iter().filter(move |w| w.is(&kind));
    let revived = |down: &RecordedFact| of_kind(Kind::SignOff).any(|s| down.happens_before(s));
    of_kind(Kind::StandDown).filter(|w| !revived(w)).cloned().collect()
}

/// Why no camera hole will be cut there; `None` when one may be.
fn cause(world: &World<'_>, facts: &[Arc<RecordedFact>], stood_down: &[Arc<RecordedFact>]) -> Option<NoCut> {
    if !stood_down.is_empty() {
        return Some(NoCut::StoodDown(FactRef::all(stood_down)));
    }
    match clearance(world, facts) {
        Answer::Blocked { why, .. } => Some(NoCut::Blocked { why }),
        Answer::NotDecidable { why, .. } => Some(NoCut::NotDecidable { why }),
        _ => None,
    }
}
