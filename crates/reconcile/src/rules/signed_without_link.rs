//! A sign-off with no live link of that job's tracker or camera before it.
//!
//! An unlink that came after the sign-off does not count here, whether it had seen it or is certainly later by the clocks: that
//! is `changed-after-sign-off`.
//!
//! Standing: where the sign-off had seen links, it clashes with the unlinks that took them off; otherwise with the links that it had
//! not seen. `-` when no link was ever recorded.

use std::sync::Arc;

use super::rule::Rule;
use super::signed::{self, Fault};
use crate::awareness::Awareness;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::reason::Reason;
use crate::reason::fact_ref::{FactRef, PairRef};
use crate::reason::sign_off::MissingLink;
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::ties::Tie;
use crate::world::{Case, World};

pub(super) struct SignedWithoutLink;

impl Rule for SignedWithoutLink {
    fn name(&self) -> &'static str {
        "signed-without-link"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        signed::judge(world, job, Reason::SignedWithoutLink, |sign_off| {
            fault(world, job, sign_off)
        })
    }
}

fn fault(world: &World<'_>, job: &JobView, sign_off: &Arc<RecordedFact>) -> Option<Fault<MissingLink>> {
    if job.ties.live_as_of(world.clocks, sign_off).next().is_some() {
        return None;
    }
    let links = &job.ties.links;
    let removals = links.iter().flat_map(|l| job.ties.removals(l));
    let evidence = links.iter().chain(removals).map(|t| t.recorded.clone()).collect();
    let seen = links.iter().filter(|l| l.recorded.happens_before(sign_off));
    let taken_off: Vec<&Tie> = seen.flat_map(|l| job.ties.removals(l)).collect();
    let (what, clashing) = if !taken_off.is_empty() {
        (MissingLink::TakenOff(pairs(&taken_off)), taken_off)
    } else if !links.is_empty() {
        let not_seen: Vec<&Tie> = links.iter().collect();
        (MissingLink::NotSeen(pairs(&not_seen)), not_seen)
    } else {
        (MissingLink::Never, Vec::new())
    };
    let clashing: Vec<_> = clashing.iter().map(|t| t.recorded.clone()).collect();
    Some(Fault {
        severity: Severity::Stop,
        awareness: Awareness::between(std::slice::from_ref(sign_off), &clashing),
        evidence,
        what,
    })
}

fn pairs(ties: &[&Tie]) -> Vec<PairRef> {
    let pair = |t: &&Tie| PairRef {
        camera: t.camera.clone(),
        tracker: t.tracker.clone(),
        fact: FactRef::of(&t.recorded),
    };
    ties.iter().map(pair).collect()
}
