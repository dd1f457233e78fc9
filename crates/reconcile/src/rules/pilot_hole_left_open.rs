//! A pilot hole was made, the job was blocked or stood down, and no later check says it was sealed.
//!
//! A pilot hole that the camera hole was cut over later is gone.
//!
//! Standing: the pilot hole clashes with the stand-downs of the job. `-` when the wall is blocked and nobody stood the job down: then
//! only the seal is missing.

use std::sync::Arc;

use gladhand_trade::Answer;

use super::rule::Rule;
use crate::awareness::Awareness;
use crate::case::Case;
use crate::clearance::{clearance, cuts, says_sealed, shows_pilot_hole};
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::wall::{NoCut, OpenPilotHole};
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
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
        let pilots = left_uncut(world, job);
        if pilots.is_empty() {
            return None;
        }
        let stood_down = job.standing_stand_downs();
        let cause = cause(world, job, &stood_down)?;
        let seals: Vec<_> = job.facts.iter().filter(|w| says_sealed(world, w)).cloned().collect();
        let is_sealed = |p: &Arc<RecordedFact>| seals.iter().any(|s| world.clocks.before(p, s));
        let (over, open): (Vec<_>, Vec<_>) = pilots.into_iter().partition(is_sealed);
        let is_cleared = open.is_empty();
        let (pilots, seals) = if is_cleared { (over, seals) } else { (open, Vec::new()) };
        let awareness = Awareness::between(&pilots, &stood_down);
        let reason = Reason::PilotHoleLeftOpen(OpenPilotHole {
            pilot: FactRef::of(pilots.first()?),
            cause,
            knowledge: awareness.knowledge(world),
            sealed_by: FactRef::all(&seals),
        });
        let draft = Draft::new(Severity::Stop, [job.job.clone()], reason)
            .made_by([pilots, stood_down, seals].concat())
            .standing(awareness.standing())
            .cleared(is_cleared);
        Some(draft)
    }
}

/// The facts that show a pilot hole over which no camera hole was cut later.
fn left_uncut(world: &World<'_>, job: &JobView) -> Vec<Arc<RecordedFact>> {
    let mut pilots: Vec<_> = job
        .facts
        .iter()
        .filter(|w| shows_pilot_hole(world, w))
        .cloned()
        .collect();
    if !pilots.is_empty() {
        let cuts = cuts(world, &job.facts);
        pilots.retain(|p| !cuts.iter().any(|cut| world.clocks.before(p, cut)));
    }
    pilots
}

/// Why no camera hole will be cut there; `None` when one may be.
fn cause(world: &World<'_>, job: &JobView, stood_down: &[Arc<RecordedFact>]) -> Option<NoCut> {
    if !stood_down.is_empty() {
        return Some(NoCut::StoodDown(FactRef::all(stood_down)));
    }
    match clearance(world, &job.facts) {
        Answer::Blocked { why, .. } => Some(NoCut::Blocked { why }),
        Answer::NotDecidable { why, .. } => Some(NoCut::NotDecidable { why }),
        _ => None,
    }
}
