//! A sign-off with no live link of that job's tracker or camera before it.
//!
//! An unlink that came after the sign-off does not count here, whether it had seen it or is certainly later by the clocks: that
//! is `changed-after-sign-off`.
//!
//! Standing: where the sign-off had seen links, it clashes with the unlinks that took them off; otherwise with the links that it had
//! not seen. `-` when no link was ever recorded.

use std::sync::Arc;

use super::rule::Rule;
use super::signed::{self, Trouble, signed_off};
use crate::awareness::Awareness;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::ties::Tie;
use crate::words::{deed, listed};
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
        signed::judge(world, job, |sign_off| trouble(world, job, sign_off))
    }
}

fn trouble(world: &World<'_>, job: &JobView, sign_off: &Arc<RecordedFact>) -> Option<Trouble> {
    if job.ties.live_as_of(world.clocks, sign_off).next().is_some() {
        return None;
    }
    let removals = job.ties.links.iter().flat_map(|l| job.ties.removals(l));
    let evidence = job.ties.links.iter().chain(removals).map(|t| t.recorded.clone());
    Some(Trouble {
        severity: Severity::Stop,
        awareness: Awareness::between(std::slice::from_ref(sign_off), &clashing(job, sign_off)),
        evidence: evidence.collect(),
        says: format!(
            "{} with no camera linked: {}",
            signed_off(world, job, sign_off),
            reason(world, job, sign_off)
        ),
        next: "Check on the trailer that the camera is tied to this tracker, record the link, then sign off again."
            .to_owned(),
    })
}

/// The unlinks that took off what the sign-off had seen, or else the links that it had not seen.
fn clashing(job: &JobView, sign_off: &RecordedFact) -> Vec<Arc<RecordedFact>> {
    let seen = |l: &&Tie| l.recorded.happens_before(sign_off);
    let removals = job.ties.links.iter().filter(seen).flat_map(|l| job.ties.removals(l));
    let removals: Vec<_> = removals.map(|u| u.recorded.clone()).collect();
    if removals.is_empty() {
        job.ties.links.iter().map(|l| l.recorded.clone()).collect()
    } else {
        removals
    }
}

fn reason(world: &World<'_>, job: &JobView, sign_off: &RecordedFact) -> String {
    let seen: Vec<&Tie> = job
        .ties
        .links
        .iter()
        .filter(|l| l.recorded.happens_before(sign_off))
        .collect();
    if !seen.is_empty() {
        let off = seen.iter().flat_map(|l| job.ties.removals(l));
        let off = off.map(|u| {
            format!(
                "camera {} was taken off tracker {} by {}",
                u.camera,
                u.tracker,
                deed(world, &u.recorded)
            )
        });
        return listed(off);
    }
    if job.ties.links.is_empty() {
        return "no link of its tracker or camera was ever recorded".to_owned();
    }
    let unseen = job.ties.links.iter();
    let unseen = unseen.map(|l| format!("{} to {} by {}", l.camera, l.tracker, deed(world, &l.recorded)));
    format!("linked only elsewhere or later: {}", listed(unseen))
}
