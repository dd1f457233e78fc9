//! The proof is judged not good for the pair, a required check fails, or the settings fail, and not before the sign-off: after it, or
//! nobody can tell.
//!
//! A judgement counts that was made in this job, or in another job on the trailer while that was not signed yet. It ends with a later
//! sign-off of this job, of a later fit, replacement or take-off on the trailer, or (for the picture) of a later proof, by somebody who had
//! seen it.
//!
//! Standing: what failed clashes with the sign-off.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::Kind;
use gladhand_trade::{Verdict, verdict};

use super::rule::{About, Rule, usual_rights};
use super::signed_before_live::fits;
use crate::awareness::Awareness;
use crate::case::Case;
use crate::checks::{Checks, Outcome};
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::placed::Placed;
use crate::purpose::Purpose;
use crate::reason::Reason;
use crate::reason::fact_ref::{FactLabel, FactRef};
use crate::reason::sign_off::{BadSignOff, FailedSince, Failure};
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject};
use crate::ties::Tie;
use crate::trailer::speaker;
use crate::world::World;

pub(super) struct FailedAfterSignOff;

type Facts = Vec<Arc<RecordedFact>>;

impl Rule for FailedAfterSignOff {
    fn name(&self) -> &'static str {
        "failed-after-sign-off"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        let found = job.latest_sign_offs();
        let mut found = found.into_iter().filter_map(|s| {
            let failures = failures(world, case, job, &s);
            (!failures.is_empty()).then_some((s, failures))
        });
        let (sign_off, failures) = found.next()?;
        let facts: Facts = failures.iter().map(|f| f.fact.clone()).collect();
        let awareness = Awareness::between(std::slice::from_ref(&sign_off), &facts);
        let told = failures.iter().map(|f| Failure {
            what: FactLabel::of(&f.fact),
            why: f.why.clone(),
            fact: FactRef::timed(&f.fact, world.clocks),
        });
        let reason = Reason::FailedAfterSignOff(BadSignOff {
            sign_off: FactRef::timed(&sign_off, world.clocks),
            fault: FailedSince {
                failures: told.collect(),
            },
            knowledge: awareness.knowledge(world),
            afterwards: false,
            resolution: None,
        });
        let draft = Draft::new(Severity::Stop, [job.key.clone()], reason)
            .made_by([sign_off])
            .made_by(facts)
            .standing(awareness.standing())
            .cleared_by(job.standing_stand_downs());
        Some(draft)
    }

    fn rights(&self, world: &World<'_>, case: &Case) -> Facts {
        let mut found = usual_rights(world, case);
        found.extend(case.job().into_iter().flat_map(|job| job.sign_offs.iter().cloned()));
        found.extend(
            case.siblings(world)
                .iter()
                .flat_map(|job| job.sign_offs.iter().cloned()),
        );
        found
    }

    fn about(&self) -> About {
        // What a later job answers for depends on what failed, and is decided here.
        About::Other
    }
}

/// Something that failed.
struct Failed {
    fact: Arc<RecordedFact>,
    why: Option<String>,
    /// Whether it is a judgement of a picture, which a later proof answers for.
    is_picture: bool,
}

fn failures(world: &World<'_>, case: &Case, job: &JobView, sign_off: &Arc<RecordedFact>) -> Vec<Failed> {
    let mut found = bad_pictures(world, case, job, sign_off);
    found.extend(failed_checks(world, job, sign_off));
    found.extend(failed_settings(world, job, sign_off));
    found.retain(|f| world.clocks.placed(&f.fact, sign_off) != Placed::Before && !is_answered(world, case, job, f));
    found.sort_by_key(|f| f.fact.place);
    found
}

/// Whether somebody who had seen it signed again.
fn is_answered(world: &World<'_>, case: &Case, job: &JobView, failed: &Failed) -> bool {
    let answers = |s: &Arc<RecordedFact>| failed.fact.happens_before(s);
    let siblings = case.siblings(world);
    // As long as nobody speaks for the trailer nothing is taken over.
    let is_spoken_for = speaker(&siblings.iter().chain([job]).collect::<Vec<_>>()).is_some();
    let later = siblings.iter().filter(|other| is_spoken_for && other.is_signed());
    let by_later_job = |other: &JobView| {
        let fits = |s: &Arc<RecordedFact>| match other.purpose_at(s) {
            Purpose::Fit | Purpose::Replace | Purpose::TakeOff => true,
            Purpose::Prove => failed.is_picture,
        };
        let is_later = |s: &Arc<RecordedFact>| job.latest_sign_offs().iter().any(|own| own.happens_before(s));
        other.sign_offs.iter().any(|s| answers(s) && fits(s) && is_later(s))
    };
    job.sign_offs.iter().any(answers) || later.into_iter().any(by_later_job)
}

fn bad_pictures(world: &World<'_>, case: &Case, job: &JobView, sign_off: &RecordedFact) -> Vec<Failed> {
    let signed: BTreeSet<(&str, &str)> = job.live_as_of(sign_off).map(pair).collect();
    let mut found = Vec::new();
    for view in case.siblings(world).iter().chain([job]) {
        let is_own = view.key == job.key;
        let bad = view.judgements().filter(|w| w.fact.flag("ok") == Some(false));
        for judged in bad {
            let by_signed = !is_own && view.sign_offs.iter().any(|s| s.happens_before(judged));
            let of_pair = view.live_as_of(judged).map(pair).any(|p| signed.contains(&p));
            // Before anything is linked a judgement in the job's own name is about its pair.
            let of_pair = of_pair || (is_own && (signed.is_empty() || view.live_as_of(judged).next().is_none()));
            if of_pair && !by_signed {
                found.push(Failed {
                    fact: judged.clone(),
                    why: None,
                    is_picture: true,
                });
            }
        }
    }
    found
}

fn pair(tie: &Tie) -> (&str, &str) {
    (&tie.camera_key, &tie.tracker_key)
}

fn failed_checks(world: &World<'_>, job: &JobView, sign_off: &RecordedFact) -> Vec<Failed> {
    // What came before the sign-off is no matter of this rule.
    let is_since = |w: &&Arc<RecordedFact>| world.clocks.placed(w, sign_off) != Placed::Before;
    let since: Vec<&Arc<RecordedFact>> = job.of_kind(&Kind::Check).filter(is_since).collect();
    if since.is_empty() {
        return Vec::new();
    }
    let checks = Checks::before(world, job, sign_off, |_| true);
    let required = checks.required();
    let mut found = Vec::new();
    for check in since {
        let requirement = required.iter().find(|r| Some(r.name()) == check.fact.check_name());
        let Some(Verdict::Fails { why }) = requirement.map(|r| verdict(r, &check.fact)) else {
            continue;
        };
        // Another check may make up for the value.
        let state = requirement.map(|r| checks.state(r));
        let is_made_good = state.is_some_and(|state| {
            matches!(state.outcome, Outcome::Good) && state.facts.iter().any(|w| w.place == check.place)
        });
        if is_made_good {
            continue;
        }
        found.push(Failed {
            fact: check.clone(),
            why: Some(why),
            is_picture: false,
        });
    }
    found
}

fn failed_settings(world: &World<'_>, job: &JobView, sign_off: &RecordedFact) -> Vec<Failed> {
    let links: Vec<&Tie> = job.live_as_of(sign_off).collect();
    let trackers: BTreeSet<&str> = links.iter().map(|l| l.tracker_key.as_str()).collect();
    let about = trackers
        .into_iter()
        .flat_map(|t| world.facts.about(&Subject::Tracker(t.to_owned())));
    let failed = about.filter(|w| w.is_state(&Kind::Settings, "failed") && links.iter().any(|l| fits(w, l)));
    // Settings of an earlier link of the tracker say nothing about this one.
    let since_link = |w: &Arc<RecordedFact>| {
        links.iter().any(|l| {
            l.tracker_key == w.key("tracker").unwrap_or_default()
                && world.clocks.placed(w, &l.recorded) != Placed::Before
        })
    };
    let failed = failed.filter(since_link).map(|fact| Failed {
        fact,
        why: None,
        is_picture: false,
    });
    failed.collect()
}
