//! A sign-off, and the pair differs from the camera or tracker that the job names.
//!
//! The job's fields are read as the signer had them in view. Where nothing is linked this is `signed-without-link`.
//!
//! Standing: the plan clashes with the links and the sign-off; fields of one's own job are no side, so the links against the sign-off.

use std::sync::Arc;

use super::rule::{About, Rule};
use super::signed::{self, Fault};
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::reason::Reason;
use crate::reason::fact_ref::PairRef;
use crate::reason::sign_off::OtherPair;
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::ties::Tie;
use crate::world::World;

pub(super) struct PlannedNotLinked;

impl Rule for PlannedNotLinked {
    fn name(&self) -> &'static str {
        "planned-not-linked"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn about(&self) -> About {
        About::Work
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        signed::judge(world, job, Reason::PlannedNotLinked, |sign_off, _| fault(job, sign_off))
    }
}

fn fault(job: &JobView, sign_off: &Arc<RecordedFact>) -> Option<Fault<OtherPair>> {
    let live: Vec<&Tie> = job.live_as_of(sign_off).collect();
    if live.is_empty() {
        return None;
    }
    let cameras = unlinked(job, "camera", sign_off, |key| live.iter().any(|l| l.camera_key == key));
    let trackers = unlinked(job, "tracker", sign_off, |key| {
        live.iter().any(|l| l.tracker_key == key)
    });
    if cameras.is_empty() && trackers.is_empty() {
        return None;
    }
    let links: Vec<Arc<RecordedFact>> = live.iter().map(|l| l.recorded.clone()).collect();
    let fields = [("camera", &cameras), ("tracker", &trackers)].into_iter();
    let plans = fields.filter(|(_, values)| !values.is_empty());
    let plans = plans.flat_map(|(field, _)| job.holders_at(field, sign_off));
    Some(Fault {
        severity: Severity::Ask,
        awareness: Awareness::between(std::slice::from_ref(sign_off), &links),
        evidence: plans.chain(links).collect(),
        what: OtherPair {
            linked: PairRef::all(&live),
            cameras,
            trackers,
        },
    })
}

/// The values of a field, if none of them is linked.
fn unlinked(job: &JobView, field: &str, sign_off: &RecordedFact, is_linked: impl Fn(&str) -> bool) -> Vec<String> {
    let planned = job.values_at(field, sign_off);
    if planned.iter().any(|value| is_linked(&value.key)) {
        return Vec::new();
    }
    planned.into_iter().map(|value| value.shown).collect()
}
