//! A sign-off whose latest judgements of the proof before it are not all good, or that has none before it.
//!
//! Several are latest when concurrent, and then any that is not good counts. A job that takes a camera off needs no proof.
//!
//! Standing: the sign-off clashes with the latest judgements before it that are not good; without any before it, with good ones that
//! were not before it, or else with those that are not good. `-` when no picture was ever judged.

use std::sync::Arc;

use super::rule::{About, Rule};
use super::signed::{self, Beside, Fault};
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::latest::latest;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::sign_off::MissingProof;
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::world::World;

pub(super) struct SignedWithoutProof;

impl Rule for SignedWithoutProof {
    fn name(&self) -> &'static str {
        "signed-without-proof"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn about(&self) -> About {
        About::Proof
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        signed::judge(world, job, Reason::SignedWithoutProof, |sign_off, beside| {
            fault(world, job, sign_off, beside)
        })
    }
}

type Facts = Vec<Arc<RecordedFact>>;

fn fault(
    world: &World<'_>,
    job: &JobView,
    sign_off: &Arc<RecordedFact>,
    beside: Beside<'_>,
) -> Option<Fault<MissingProof>> {
    if !job.purpose_at(sign_off).wants_a_pair() {
        return None;
    }
    let judged: Facts = job.judgements().cloned().collect();
    let in_time: Facts = judged.iter().filter(|p| beside.is_before(p)).cloned().collect();
    let last = latest(world.clocks, &in_time);
    let decides = if last.is_empty() { judged } else { last.clone() };
    let (good, bad): (Facts, Facts) = decides.into_iter().partition(|p| p.fact.flag("ok") == Some(true));
    // Judgements that came too late make nothing worse here: they are no evidence.
    let (what, clashing, evidence) = match (last.is_empty(), good.is_empty(), bad.is_empty()) {
        (false, _, true) => return None,
        (true, true, true) => (MissingProof::NeverJudged, Vec::new(), Vec::new()),
        (true, false, _) => (MissingProof::NotBefore(FactRef::all(&good)), good, Vec::new()),
        (true, true, false) => (MissingProof::JudgedBad(FactRef::all(&bad)), bad, Vec::new()),
        (false, _, false) => (MissingProof::JudgedBad(FactRef::all(&bad)), bad.clone(), bad),
    };
    Some(Fault {
        severity: Severity::Stop,
        awareness: Awareness::between(std::slice::from_ref(sign_off), &clashing),
        evidence,
        what,
    })
}
