//! What speaks against a fact that was just recorded, although it contradicts nothing yet.

use gladhand_facts::{Fact, Kind, code_key};
use gladhand_node::Receipt;
use gladhand_reconcile::checks::{CheckState, Checks, Outcome};
use gladhand_reconcile::ties::Ties;
use gladhand_reconcile::{Finding, JobView, Subject};
use gladhand_trade::{Standard, near_misses};

use super::Before;
use crate::advice;
use crate::clearance::{self, clearance};
use crate::judging::JudgingContext;
use crate::standard::Office;
use crate::text;
use crate::warned::Warned;

/// What no rule says, because it is no contradiction yet.
pub(super) fn warnings(
    judging: &JudgingContext<'_>,
    receipt: &Receipt,
    job: Option<&JobView>,
    before: Before,
) -> Vec<Warned> {
    let fact = &receipt.fact;
    let mut found = Vec::new();
    if let Some(job) = job.filter(|_| before == Before::Unknown && *fact.kind() != Kind::Job) {
        found.push(Warned::UnknownJob { job: job.job.clone() });
    }
    match (fact.kind(), job) {
        (Kind::Check, Some(job)) => found.extend(check_warnings(judging, job, fact)),
        (Kind::Proof, Some(job)) => found.extend(proof_warning(judging, job)),
        (Kind::Settings, _) => found.extend(settings_warning(judging, fact)),
        (Kind::Link, None) => found.extend(link_warning(judging, fact)),
        (Kind::StandDown, _) => found.extend(reason_warning(judging, fact)),
        _ => {}
    }
    found
}

fn check_warnings(judging: &JudgingContext<'_>, job: &JobView, fact: &Fact) -> Vec<Warned> {
    let standard = judging.standard();
    let Some(check) = fact.text("check") else {
        return Vec::new();
    };
    if standard.check(&check).is_none() {
        let near = near_misses(&check, standard.checks().iter().map(|c| c.name()));
        return vec![Warned::NoSuchCheck {
            check: check.into_owned(),
            standard: standard.version().to_owned(),
            near: near.first().map(ToString::to_string),
        }];
    }
    let world = judging.world();
    let checks = Checks::so_far(&world, job);
    let own = advice::requirement(standard, job, &check);
    let ended = standard
        .checks()
        .iter()
        .filter(|r| r.pair().is_some_and(|(_, to)| to == check));
    let not_good = own.into_iter().chain(ended).filter_map(|r| {
        let state = checks.state(r);
        let why = match &state.outcome {
            Outcome::Failed(reasons) => reasons.first()?.1.clone(),
            // A wait that has only one of its ends is no news.
            Outcome::Missing(why) => why.clone()?,
            Outcome::Good => return None,
        };
        Some(not_good(standard, &state, why))
    });
    not_good.collect()
}

fn not_good(standard: &Standard, state: &CheckState<'_>, why: String) -> Warned {
    let ask_office = state.requirement.asks_when_outside();
    Warned::CheckNotGood {
        check: state.requirement.name().to_owned(),
        why,
        ask_office,
        office: Office::of(standard).filter(|_| ask_office),
        made_good_by: state.made_good_by.iter().map(|check| (*check).to_owned()).collect(),
    }
}

/// A reason that the work standard does not list is recorded all the same.
fn reason_warning(judging: &JudgingContext<'_>, fact: &Fact) -> Option<Warned> {
    let standard = judging.standard();
    let reason = fact.text("reason").filter(|reason| !standard.knows_reason(reason))?;
    let listed = standard.stand_down_reasons().iter();
    Some(Warned::NoSuchReason {
        reason: reason.into_owned(),
        standard: standard.version().to_owned(),
        reasons: listed.map(|r| r.name().to_owned()).collect(),
    })
}

/// Settings must be live on the tracker before the picture can mean anything.
fn proof_warning(judging: &JudgingContext<'_>, job: &JobView) -> Option<Warned> {
    let against = judging.if_signed_off(&job.job);
    let says = |rule: &str| against.iter().any(|f| f.is_open() && f.rule == rule);
    let job = job.job.clone();
    if says("signed-without-link") {
        Some(Warned::NoLink { job })
    } else if says("signed-before-live") {
        Some(Warned::NotLive { job })
    } else {
        None
    }
}

fn settings_warning(judging: &JudgingContext<'_>, fact: &Fact) -> Option<Warned> {
    let tracker = fact.text("tracker")?;
    let about = judging.facts().about(&Subject::tracker(&tracker));
    let ties = Ties::among(&about);
    let fits = |camera: &str| fact.text("camera").is_none_or(|c| code_key(&c) == camera);
    let key = code_key(&tracker);
    let linked = ties
        .live()
        .into_iter()
        .any(|l| l.tracker_key == key && fits(&l.camera_key));
    (!linked).then(|| Warned::TrackerNotLinked {
        tracker: tracker.into_owned(),
    })
}

fn link_warning(judging: &JudgingContext<'_>, fact: &Fact) -> Option<Warned> {
    let (camera, tracker) = (fact.text("camera")?, fact.text("tracker")?);
    let subjects = [Subject::camera(&camera), Subject::tracker(&tracker)];
    let in_job = |s: &Subject| judging.facts().about(s).iter().any(|w| w.fact.text("job").is_some());
    (!subjects.iter().any(in_job)).then(|| Warned::LinkWithoutJob {
        camera: camera.into_owned(),
        tracker: tracker.into_owned(),
    })
}

/// A cut without a clear answer, where the rule about loaded trailers does not speak already.
pub(super) fn cut_unclear(
    judging: &JudgingContext<'_>,
    receipt: &Receipt,
    job: &JobView,
    findings: &[Finding],
) -> Option<Warned> {
    let cut = clearance::cuts(judging, job)
        .into_iter()
        .find(|w| w.place == receipt.place)?;
    if findings.iter().any(|f| f.rule == "cut-without-clearance") {
        return None;
    }
    let mut known = job.clone();
    known.facts.retain(|w| w.happens_before(&cut));
    let answer = clearance(judging, &known);
    (answer.answer != clearance::Word::Clear).then(|| Warned::NotCleared {
        answer: text::clearance::brief(&answer),
    })
}
