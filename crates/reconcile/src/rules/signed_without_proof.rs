//! A sign-off with no `proof judged ok` of the job before it.
//!
//! Standing: the sign-off clashes with the judgements of its picture: good ones that were not before it, or else those that are not
//! good. `-` when no picture was ever judged.

use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::Rule;
use super::signed::{self, Fault};
use crate::awareness::Awareness;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::sign_off::MissingProof;
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::world::{Case, World};

pub(super) struct SignedWithoutProof;

impl Rule for SignedWithoutProof {
    fn name(&self) -> &'static str {
        "signed-without-proof"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        signed::judge(world, job, Reason::SignedWithoutProof, |sign_off| {
            fault(world, job, sign_off)
        })
    }
}

fn fault(world: &World<'_>, job: &JobView, sign_off: &Arc<RecordedFact>) -> Option<Fault<MissingProof>> {
    let judged = job.of_kind(&Kind::Proof).filter(|w| w.is_state(&Kind::Proof, "judged"));
    let evidence: Vec<Arc<RecordedFact>> = judged.cloned().collect();
    let is_good = |p: &Arc<RecordedFact>| p.fact.flag("ok") == Some(true);
    let (good, bad): (Vec<_>, Vec<_>) = evidence.iter().cloned().partition(is_good);
    if good.iter().any(|p| world.clocks.before(p, sign_off)) {
        return None;
    }
    let (what, clashing) = if !good.is_empty() {
        (MissingProof::NotBefore(FactRef::all(&good)), good)
    } else if !bad.is_empty() {
        (MissingProof::JudgedBad(FactRef::all(&bad)), bad)
    } else {
        (MissingProof::NeverJudged, Vec::new())
    };
    Some(Fault {
        severity: Severity::Stop,
        awareness: Awareness::between(std::slice::from_ref(sign_off), &clashing),
        evidence,
        what,
    })
}
