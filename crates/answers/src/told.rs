//! What is told when a fact was recorded: what the work standard shows beside that step, and what this device already
//! knows against it.
//!
//! The fact stands in any case; nothing here refuses or changes it. Only the subjects that the fact touches are judged, so
//! a large store answers as fast as a small one.

use std::collections::BTreeSet;

use gladhand_facts::{Fact, Kind};
use gladhand_node::{Node, NodeError, Receipt, environment};
use gladhand_reconcile::checks::{CheckState, Checks, Outcome};
use gladhand_reconcile::ties::Ties;
use gladhand_reconcile::{Class, Finding, JobView, Severity, Subject, judge, judge_subject, mentions, touched};
use gladhand_trade::{Standard, Wants, near_misses};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::advice::{self, Hint, Kit};
use crate::clearance::{self, Clearance, clearance};
use crate::judging::{JudgingContext, recorded};
use crate::shown_finding::ShownFinding;
use crate::standard::Office;
use crate::text;
use crate::torn::FIELDS;
use crate::warned::{Warned, Warning};

/// The fields of a job that its kit depends on.
const KIT_FIELDS: [&str; 2] = ["wall", "load"];

/// How the job of a fact stood before it was recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Before {
    /// The fact names no job, or one that was known.
    Known,
    /// Nothing was known of the job.
    Unknown,
}

/// All that is told beside a receipt.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Told {
    /// The job that the fact opened.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub opened: Option<Opened>,
    /// What to bring, at the opening and when the wall or the load is recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kit: Option<Kit>,
    /// What the work standard shows beside the step; never a gate.
    pub hints: Vec<Hint>,
    /// Waiting times that begin with this check.
    pub waits: Vec<Waiting>,
    /// Whether the wall may be cut now; absent where the fact has nothing to do with that.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub clearance: Option<Clearance>,
    /// What to mind, in words.
    pub cautions: Vec<String>,
    /// What speaks against the fact although it contradicts nothing yet.
    pub warnings: Vec<Warning>,
    /// The open findings that the fact is part of, and the open stops of its job.
    pub findings: Vec<ShownFinding>,
}

/// A job that was just opened.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Opened {
    /// Its name.
    pub job: String,
    /// The trailer's unit number; several where they were written without knowing of each other.
    pub trailer: Vec<String>,
    /// The customer; several where they were written without knowing of each other.
    pub fleet: Vec<String>,
    /// The place of work; several where they were written without knowing of each other.
    pub yard: Vec<String>,
}

/// A waiting time between two checks.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Waiting {
    /// The check that the waiting time is for.
    pub check: String,
    /// How long, for reading: `at least 3 min`.
    pub wait: String,
    /// The check to record after it.
    pub then: String,
}

/// All that is told beside a receipt.
///
/// # Errors
/// When the store cannot be read.
pub fn told(node: &Node, receipt: &Receipt, before: Before) -> Result<Told, NodeError> {
    let judging = JudgingContext::new(node);
    let job = receipt.fact.text("job").map(|name| judging.job(&name));
    let mut told = match &job {
        Some(job) => beside(&judging, job, &receipt.fact, before),
        None => Told::default(),
    };
    let findings = findings(&judging, receipt, job.as_ref());
    let mut warnings = warnings(&judging, receipt, job.as_ref(), before);
    if let Some(job) = &job {
        warnings.extend(cut_unclear(&judging, receipt, job, &findings));
    }
    told.warnings = warnings.into_iter().map(Warning::from).collect();
    told.findings = findings.iter().map(|f| ShownFinding::of(f, judging.names())).collect();
    judging.check()?;
    Ok(told)
}

/// What the work standard shows beside the step.
fn beside(judging: &JudgingContext<'_>, job: &JobView, fact: &Fact, before: Before) -> Told {
    let standard = judging.standard();
    let is_opening = *fact.kind() == Kind::Job && before == Before::Unknown;
    let sets = |fields: &[&str]| *fact.kind() == Kind::Job && fields.iter().any(|f| fact.get(f).is_some());
    let check = fact.text("check").filter(|_| *fact.kind() == Kind::Check);
    let mut told = Told {
        opened: is_opening.then(|| opened(job)),
        kit: (is_opening || sets(&KIT_FIELDS)).then(|| advice::kit(standard, job)),
        ..Told::default()
    };
    if let Some(check) = &check {
        told.hints.extend(advice::hints(standard, job, check, fact));
        told.waits = waits_for(judging, check);
    }
    if is_end(fact) {
        let now_us = environment::now_us();
        told.hints.extend(advice::hints_by_time(standard, job, now_us));
    }
    let is_reading = check.as_ref().is_some_and(|c| clearance::is_read(judging, c));
    if is_opening || is_reading || sets(&FIELDS) {
        add_clearance(&mut told, judging, job, is_opening);
    } else if let Some(check) = &check {
        let cautions = advice::cautions(standard, &[advice::step_of(standard, check)]);
        // Nothing but the deference alone is no caution about this step.
        if cautions.len() > 1 {
            told.cautions = cautions;
        }
    }
    told
}

/// The clearance as it stands now, with the cautions of the next step: those of the step that is done would only hide
/// them. No answer about a wall goes without the deference.
fn add_clearance(told: &mut Told, judging: &JudgingContext<'_>, job: &JobView, is_opening: bool) {
    let mut answer = clearance(judging, job);
    let mut cautions = Vec::new();
    if is_opening {
        cautions.push(advice::cautions(judging.standard(), &advice::BEGINNING));
    }
    if is_opening && answer.answer == clearance::Word::Clear {
        // The cut is not the first thing to do on a trailer that was just opened.
        answer.record.clear();
    } else {
        cautions.push(answer.cautions.clone());
    }
    told.cautions = advice::merged(cautions);
    told.clearance = Some(answer);
}

fn is_end(fact: &Fact) -> bool {
    let judged = *fact.kind() == Kind::Proof && fact.text("state").as_deref() == Some("judged");
    judged || *fact.kind() == Kind::SignOff
}

fn opened(job: &JobView) -> Opened {
    Opened {
        job: job.job.clone(),
        trailer: job.values("trailer"),
        fleet: job.values("fleet"),
        yard: job.values("yard"),
    }
}

/// The waiting times that begin with this check.
fn waits_for(judging: &JudgingContext<'_>, check: &str) -> Vec<Waiting> {
    let begun = judging.standard().checks().iter().filter_map(|r| match r.wants() {
        Wants::Wait { from, to, band } if from == check => Some(Waiting {
            check: r.name().to_owned(),
            wait: band.to_string(),
            then: to.clone(),
        }),
        _ => None,
    });
    begun.collect()
}

/// The open findings that the new fact is part of, and the open stops of its job. A ruling shows what it ruled on.
fn findings(judging: &JudgingContext<'_>, receipt: &Receipt, job: Option<&JobView>) -> Vec<Finding> {
    let fact = &receipt.fact;
    let world = judging.world();
    let ruled = fact.text("finding").filter(|_| *fact.kind() == Kind::Ruling);
    let mut subjects: BTreeSet<Subject> = BTreeSet::new();
    if let Some(recorded) = recorded(world.facts, fact, &receipt.place) {
        let subject_of = |id: &str| judging.node().subject_of(id).ok().flatten();
        subjects.extend(touched(&world, &recorded, &subject_of));
    }
    if let Some(job) = job {
        subjects.insert(Subject::Job(job.job.clone()));
        let links = job.ties.links.iter().map(|link| &link.recorded);
        let named = job
            .facts
            .iter()
            .chain(links)
            .flat_map(|w| mentions(&w.fact, &w.place.log.device));
        subjects.extend(named.filter(|s| matches!(s.class(), Class::Camera | Class::Tracker)));
    }
    let mut found: Vec<Finding> = subjects.iter().flat_map(|s| judge_subject(&world, s)).collect();
    found.retain(|f| {
        let part = f.facts.contains(&fact.id());
        let of_job = job.is_some_and(|job| f.jobs.contains(&job.job)) && f.severity == Severity::Stop;
        ruled.as_deref() == Some(f.id.as_str()) || (f.is_open() && (part || of_job))
    });
    judge::sort(&mut found);
    found
}

/// What no rule says, because it is no contradiction yet.
fn warnings(judging: &JudgingContext<'_>, receipt: &Receipt, job: Option<&JobView>, before: Before) -> Vec<Warned> {
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
    Some(Warned::NoSuchReason {
        reason: reason.into_owned(),
        standard: standard.version().to_owned(),
        reasons: standard
            .stand_down_reasons()
            .iter()
            .map(|r| r.name().to_owned())
            .collect(),
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
    let about = judging.facts().about(&Subject::Tracker(tracker.to_string()));
    let ties = Ties::among(&about);
    let fits = |camera: &str| fact.text("camera").is_none_or(|c| c == camera);
    let linked = ties
        .live()
        .into_iter()
        .any(|l| l.tracker == *tracker && fits(&l.camera));
    (!linked).then(|| Warned::TrackerNotLinked {
        tracker: tracker.into_owned(),
    })
}

fn link_warning(judging: &JudgingContext<'_>, fact: &Fact) -> Option<Warned> {
    let (camera, tracker) = (fact.text("camera")?, fact.text("tracker")?);
    let subjects = [
        Subject::Camera(camera.to_string()),
        Subject::Tracker(tracker.to_string()),
    ];
    let in_job = |s: &Subject| judging.facts().about(s).iter().any(|w| w.fact.text("job").is_some());
    (!subjects.iter().any(in_job)).then(|| Warned::LinkWithoutJob {
        camera: camera.into_owned(),
        tracker: tracker.into_owned(),
    })
}

/// A cut without a clear answer, where the rule about loaded trailers does not speak already.
fn cut_unclear(judging: &JudgingContext<'_>, receipt: &Receipt, job: &JobView, findings: &[Finding]) -> Option<Warned> {
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
