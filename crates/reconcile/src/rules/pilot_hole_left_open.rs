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
use crate::clearance::{clearance, cuts, says_sealed, shows_pilot_hole};
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::words::{deed, deeds};
use crate::world::{Case, World};

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
        let reason = reason(world, job)?;
        let all_seals: Vec<_> = job.facts.iter().filter(|w| says_sealed(world, w)).cloned().collect();
        let sealed = |p: &Arc<RecordedFact>| all_seals.iter().any(|s| world.clocks.before(p, s));
        let (over, open): (Vec<_>, Vec<_>) = pilots.iter().cloned().partition(sealed);
        let cleared = open.is_empty();
        let pilots = if cleared { over } else { open };
        let body = format!(
            "Job {} has a pilot hole, made by {}, and {reason}",
            job.job,
            deed(world, pilots.first()?)
        );
        let down = job.standing_stand_downs();
        let awareness = Awareness::between(&pilots, &down);
        let draft = Draft::new(Severity::Stop, [job.job.clone()])
            .by(pilots)
            .by(down)
            .standing(awareness.standing());
        let body = format!("{body}{}", awareness.describe(world));
        Some(if cleared {
            let says = format!("{body}; it was sealed by {}.", deeds(world, &all_seals));
            draft.by(all_seals).cleared(says)
        } else {
            draft.open(
                format!("{body}; no later check says that it was sealed."),
                "Go back to the trailer, seal the pilot hole and record pilot-sealed.",
            )
        })
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

/// Why nobody will cut there: the job was stood down, or the wall is blocked.
fn reason(world: &World<'_>, job: &JobView) -> Option<String> {
    let down = job.standing_stand_downs();
    if !down.is_empty() {
        return Some(format!("the job was stood down by {}", deeds(world, &down)));
    }
    match clearance(world, &job.facts) {
        Answer::Blocked { why, .. } => Some(format!("the wall is blocked: {why}")),
        Answer::NotDecidable { why, .. } => Some(format!("the readings do not clear the wall: {why}")),
        _ => None,
    }
}
