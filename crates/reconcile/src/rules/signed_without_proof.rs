//! A sign-off with no `proof judged ok` of the job before it.
//!
//! Standing: the sign-off clashes with the judgements of its picture: good ones that were not before it, or else those that are not
//! good. `-` when no picture was ever judged.

use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::Rule;
use super::signed::{self, Trouble, signed_off};
use crate::awareness::Awareness;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::words::deeds;
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
        signed::judge(world, job, |sign_off| trouble(world, job, sign_off))
    }
}

fn trouble(world: &World<'_>, job: &JobView, sign_off: &Arc<RecordedFact>) -> Option<Trouble> {
    let judged: Vec<Arc<RecordedFact>> = job
        .of_kind(&Kind::Proof)
        .filter(|w| w.is_state(&Kind::Proof, "judged"))
        .cloned()
        .collect();
    let good = |p: &&Arc<RecordedFact>| p.fact.flag("ok") == Some(true);
    if judged.iter().filter(good).any(|p| world.clocks.before(p, sign_off)) {
        return None;
    }
    let (good, bad): (Vec<_>, Vec<_>) = judged.iter().cloned().partition(|p| good(&p));
    let clashing = if good.is_empty() { &bad } else { &good };
    let awareness = Awareness::between(std::slice::from_ref(sign_off), clashing);
    let reason = if !good.is_empty() {
        format!("its picture was judged good by {}, but not before", deeds(world, &good))
    } else if !bad.is_empty() {
        format!("its picture was judged, but not as good, by {}", deeds(world, &bad))
    } else {
        "no picture of it was ever judged".to_owned()
    };
    Some(Trouble {
        severity: Severity::Stop,
        awareness,
        evidence: judged,
        says: format!(
            "{} without a proof picture judged good: {reason}",
            signed_off(world, job, sign_off)
        ),
        next: "Request a proof picture with the doors closed, judge it, then sign off again.".to_owned(),
    })
}
