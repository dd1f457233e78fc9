//! A sign-off with no live link of the job's pair before it; of a job that takes a camera off, with a link still live.
//!
//! Causality alone decides. An unlink that had seen the sign-off does not count here, that is `changed-after-sign-off`; one that is
//! concurrent with it does. A take-off looks at the links of the trailer's trackers as they are now: those that its field names, that
//! the lists give, and that jobs on the trailer linked. What a later job linked with the take-off in view is that job's.
//!
//! Standing: where the sign-off had seen links, it clashes with the unlinks that took them off; otherwise with the links that it had
//! not seen, or that are still live. `-` when no link was ever recorded.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::{About, Rule, usual_rights};
use super::signed::{self, Fault};
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::{JobView, with_unlinks};
use crate::listed::listed_trackers;
use crate::purpose::Purpose;
use crate::reason::Reason;
use crate::reason::fact_ref::PairRef;
use crate::reason::sign_off::MissingLink;
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject};
use crate::ties::{Tie, Ties};
use crate::world::World;

pub(super) struct SignedWithoutLink;

impl Rule for SignedWithoutLink {
    fn name(&self) -> &'static str {
        "signed-without-link"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn about(&self) -> About {
        About::Work
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        signed::judge(world, job, Reason::SignedWithoutLink, |sign_off, _| {
            match job.purpose_at(sign_off) {
                Purpose::TakeOff => still_linked(world, case, job, sign_off),
                _ => fault(job, sign_off),
            }
        })
    }

    fn rights(&self, world: &World<'_>, case: &Case) -> Vec<Arc<RecordedFact>> {
        let mut found = usual_rights(world, case);
        if let Some(job) = case.job().filter(|job| job.purpose() == Purpose::TakeOff) {
            found.extend(trailer_ties(world, case, job).unlinks.into_iter().map(|u| u.recorded));
        }
        found
    }
}

fn fault(job: &JobView, sign_off: &Arc<RecordedFact>) -> Option<Fault<MissingLink>> {
    if job.live_as_of(sign_off).next().is_some() {
        return None;
    }
    let links = &job.ties.links;
    let seen = links.iter().filter(|l| l.recorded.happens_before(sign_off));
    // What was taken off by somebody who had seen the sign-off is another rule's.
    let unlinks = seen.flat_map(|l| job.ties.removals(l));
    let taken_off: Vec<&Tie> = unlinks.filter(|u| !sign_off.happens_before(&u.recorded)).collect();
    let (what, clashing) = if !taken_off.is_empty() {
        (MissingLink::TakenOff(PairRef::all(&taken_off)), taken_off)
    } else if !links.is_empty() {
        let not_seen: Vec<&Tie> = links.iter().collect();
        (MissingLink::NotSeen(PairRef::all(&not_seen)), not_seen)
    } else {
        (MissingLink::Never, Vec::new())
    };
    let clashing = recorded(&clashing);
    // A link that came too late makes nothing worse.
    let evidence = match what {
        MissingLink::TakenOff(_) => clashing.clone(),
        _ => Vec::new(),
    };
    Some(Fault {
        severity: Severity::Stop,
        awareness: Awareness::between(std::slice::from_ref(sign_off), &clashing),
        evidence,
        what,
    })
}

fn still_linked(
    world: &World<'_>,
    case: &Case,
    job: &JobView,
    sign_off: &Arc<RecordedFact>,
) -> Option<Fault<MissingLink>> {
    let ties = trailer_ties(world, case, job);
    let made_later =
        |l: &Tie| sign_off.happens_before(&l.recorded) && l.recorded.key("job").is_some_and(|j| j != job.key);
    let live: Vec<&Tie> = ties.live().into_iter().filter(|l| !made_later(l)).collect();
    if live.is_empty() {
        return None;
    }
    let evidence = recorded(&live);
    Some(Fault {
        severity: Severity::Stop,
        awareness: Awareness::between(std::slice::from_ref(sign_off), &evidence),
        evidence,
        what: MissingLink::StillLinked(PairRef::all(&live)),
    })
}

/// The links of the trailer's trackers, whoever made them.
fn trailer_ties(world: &World<'_>, case: &Case, job: &JobView) -> Ties {
    let mut trackers: BTreeSet<String> = job.value_keys("tracker");
    for trailer in job.value_keys("trailer") {
        trackers.extend(
            listed_trackers(world, &trailer)
                .into_iter()
                .map(|listed| listed.tracker),
        );
    }
    for other in case.siblings(world).iter().chain([job]) {
        trackers.extend(other.ties.links.iter().map(|l| l.tracker_key.clone()));
    }
    let about = trackers
        .into_iter()
        .flat_map(|t| world.facts.about(&Subject::Tracker(t)));
    with_unlinks(world.facts, about.filter(|w| w.is(&Kind::Link)).collect())
}

fn recorded(ties: &[&Tie]) -> Vec<Arc<RecordedFact>> {
    ties.iter().map(|t| t.recorded.clone()).collect()
}
