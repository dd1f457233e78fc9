//! A sign-off whose latest judgements of the proof before it are not all good, or that has none before it.
//!
//! Latest goes by happens-before: several when concurrent, and then any that is not good counts.
//!
//! Standing: the sign-off clashes with the latest judgements before it that are not good; without any before it, with good ones that
//! were not before it, or else with those that are not good. `-` when no picture was ever judged.

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
use crate::recorded_fact::{RecordedFact, latest};
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
    let is_good = |p: &&Arc<RecordedFact>| p.fact.flag("ok") == Some(true);
    let in_time = evidence.iter().filter(|p| world.clocks.before(p, sign_off));
    let last = latest(&in_time.cloned().collect::<Vec<_>>());
    let decides = if last.is_empty() { &evidence } else { &last };
    let (good, bad): (Vec<_>, Vec<_>) = decides.iter().partition(is_good);
    let all = |facts: Vec<&Arc<RecordedFact>>| facts.into_iter().cloned().collect::<Vec<_>>();
    let (what, clashing) = match (last.is_empty(), good.is_empty(), bad.is_empty()) {
        (false, _, true) => return None,
        (true, true, true) => (MissingProof::NeverJudged, Vec::new()),
        (true, false, _) => (MissingProof::NotBefore(FactRef::all(&all(good.clone()))), all(good)),
        (_, _, false) => (MissingProof::JudgedBad(FactRef::all(&all(bad.clone()))), all(bad)),
    };
    Some(Fault {
        severity: Severity::Stop,
        awareness: Awareness::between(std::slice::from_ref(sign_off), &clashing),
        evidence,
        what,
    })
}
