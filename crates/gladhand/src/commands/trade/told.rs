//! What a person is told when a fact was recorded: what the work standard shows beside that step, and what this device
//! already knows against it.
//!
//! The fact stands in any case; nothing here refuses or changes it. Only the subjects that the fact touches are judged, so
//! a large store answers as fast as a small one.

use std::collections::BTreeSet;

use gladhand_facts::{Fact, Kind};
use gladhand_reconcile::checks::{Checks, Outcome};
use gladhand_reconcile::ties::Ties;
use gladhand_reconcile::{Class, Finding, JobView, Severity, Subject, judge, judge_subject, mentions, touched};
use gladhand_trade::near_misses;

use super::advice;
use super::judging::{JudgingContext, recorded};
use crate::commands::clearance;
use crate::failure::Failure;
use crate::show;
use gladhand_node::{Node, Receipt};

/// The fields of a job that its kit hangs on.
const KIT_FIELDS: [&str; 2] = ["wall", "load"];

/// How the job of a fact stood before it was recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Before {
    /// The fact names no job, or one that was known.
    Known,
    /// Nothing was known of the job.
    Unknown,
}

/// All that is said beside a receipt, for stderr; empty when there is nothing to say.
///
/// # Errors
/// When the store cannot be read.
pub fn after(node: &Node, receipt: &Receipt, before: Before) -> Result<String, Failure> {
    let judging = JudgingContext::new(node);
    let fact = &receipt.fact;
    let job = fact.text("job").map(|name| judging.job(&name));
    let mut out = String::new();
    if let Some(job) = &job {
        out.push_str(&beside(&judging, job, fact, before));
    }
    let findings = findings(&judging, receipt, job.as_ref())?;
    let mut warnings = warnings(&judging, receipt, job.as_ref(), before);
    if let Some(job) = &job {
        warnings.extend(cut_unclear(&judging, receipt, job, &findings));
    }
    for warning in warnings {
        let text = show::wrapped(&warning, "      ");
        out.push_str(&format!("!     {}", text.trim_start()));
    }
    let text = |f| show::finding(f, judging.facts());
    findings.iter().for_each(|f| out.push_str(&text(f)));
    judging.check()?;
    Ok(out)
}

/// What the work standard shows beside the step.
fn beside(judging: &JudgingContext<'_>, job: &JobView, fact: &Fact, before: Before) -> String {
    let standard = judging.standard();
    let opened = *fact.kind() == Kind::Job && before == Before::Unknown;
    let sets = |fields: &[&str]| *fact.kind() == Kind::Job && fields.iter().any(|f| fact.get(f).is_some());
    let check = fact.text("check").filter(|_| *fact.kind() == Kind::Check);
    let mut lines = Vec::new();
    if opened {
        lines.push(opened_text(job));
    }
    if opened || sets(&KIT_FIELDS) {
        lines.push(advice::kit(standard, job));
    }
    if let Some(check) = &check {
        lines.extend(advice::hints(standard, job, check, fact));
        lines.extend(waits_for(judging, check));
    }
    if is_end(fact) {
        lines.extend(advice::hints_by_time(
            standard,
            job,
            gladhand_node::environment::now_us(),
        ));
    }
    let mut out: String = lines.iter().map(|line| show::wrapped(line, "")).collect();
    let reading = check.as_ref().is_some_and(|c| clearance::is_read(judging, c));
    if opened || reading || sets(&clearance::FIELDS) {
        out.push_str(&with_clearance(judging, job, opened));
    } else if let Some(check) = &check {
        let cautions = advice::cautions(standard, &[advice::step_of(standard, check)]);
        // Nothing but the deference alone is no caution about this step.
        if cautions.len() > 1 {
            out.push_str(&caution_text(&cautions));
        }
    }
    out
}

/// The clearance as it stands now, with the cautions of the next step: those of the step that is done would only hide
/// them. No answer about a wall goes without the deference.
fn with_clearance(judging: &JudgingContext<'_>, job: &JobView, opened: bool) -> String {
    let mut given = clearance::of(judging, job);
    let mut cautions = Vec::new();
    if opened {
        cautions.push(advice::cautions(judging.standard(), &advice::BEGINNING));
    }
    if opened && given.answer.is_clear() {
        // The cut is not the first thing to do on a trailer that was just opened.
        given.record.clear();
    } else {
        cautions.push(given.cautions);
    }
    let headline = clearance::headline(&given.answer);
    let body = clearance::body(&given.answer);
    let record = clearance::record_text(&given.record);
    let mind = caution_text(&advice::merged(cautions));
    format!("Clearance: {headline}{body}{record}{mind}")
}

fn is_end(fact: &Fact) -> bool {
    let judged = *fact.kind() == Kind::Proof && fact.text("state").as_deref() == Some("judged");
    judged || *fact.kind() == Kind::SignOff
}

fn opened_text(job: &JobView) -> String {
    let field = |name: &str| {
        let values = job.values(name).join(" | ");
        if values.is_empty() {
            "not recorded".to_owned()
        } else {
            values
        }
    };
    format!(
        "Job {} is open: trailer {}, fleet {}, yard {}.",
        job.job,
        field("trailer"),
        field("fleet"),
        field("yard")
    )
}

fn caution_text(cautions: &[String]) -> String {
    let each: String = cautions.iter().map(|c| advice::bullet(c)).collect();
    format!("Mind:\n{each}")
}

/// The waiting times that begin with this check.
fn waits_for(judging: &JudgingContext<'_>, check: &str) -> Vec<String> {
    let begun = judging.standard().checks().iter().filter_map(|r| match r.wants() {
        gladhand_trade::Wants::Wait { from, to, band } if from == check => {
            Some(format!("{}: wait {band}, then record {to}.", r.name()))
        }
        _ => None,
    });
    begun.collect()
}

/// The open findings that the new fact is part of, and the open stops of its job. A ruling shows what it ruled on.
fn findings(judging: &JudgingContext<'_>, receipt: &Receipt, job: Option<&JobView>) -> Result<Vec<Finding>, Failure> {
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
    Ok(found)
}

/// What no rule says, because it is no contradiction yet.
fn warnings(judging: &JudgingContext<'_>, receipt: &Receipt, job: Option<&JobView>, before: Before) -> Vec<String> {
    let fact = &receipt.fact;
    let mut found = Vec::new();
    if let Some(job) = job.filter(|_| before == Before::Unknown && *fact.kind() != Kind::Job) {
        found.push(format!(
            "No job {} was known here. The fact is recorded under that name; if it was a slip, record it again under the right one.",
            job.job
        ));
    }
    match (fact.kind(), job) {
        (Kind::Check, Some(job)) => found.extend(check_warnings(judging, job, fact)),
        (Kind::Proof, Some(job)) => found.extend(proof_warning(judging, job)),
        (Kind::Settings, _) => found.extend(settings_warning(judging, fact)),
        (Kind::Link, None) => found.extend(link_warning(judging, fact)),
        _ => {}
    }
    found
}

fn check_warnings(judging: &JudgingContext<'_>, job: &JobView, fact: &Fact) -> Vec<String> {
    let standard = judging.standard();
    let Some(check) = fact.text("check") else {
        return Vec::new();
    };
    if standard.check(&check).is_none() {
        let near = near_misses(&check, standard.checks().iter().map(|c| c.name()));
        let meant = near
            .first()
            .map_or(".".to_owned(), |name| format!("; did you mean {name}?"));
        let version = standard.version();
        return vec![format!("The work standard {version} has no check {check}{meant}")];
    }
    let world = judging.world();
    let checks = Checks::so_far(&world, job);
    let own = advice::requirement(standard, job, &check);
    let ended = standard
        .checks()
        .iter()
        .filter(|r| r.pair().is_some_and(|(_, to)| to == check));
    let told = own
        .into_iter()
        .chain(ended)
        .filter_map(|r| match checks.state(r).outcome {
            Outcome::Failed(reasons) => Some((r, reasons.into_iter().next()?.1)),
            // A wait that has only one of its ends is no news.
            Outcome::Missing(why) => Some((r, why?)),
            Outcome::Good => None,
        });
    told.map(|(r, why)| format!("{why}.{}", remedy(r))).collect()
}

/// What the work standard takes instead.
fn remedy(requirement: &gladhand_trade::Requirement) -> String {
    let names: Vec<&str> = requirement.made_good_by().iter().map(|m| m.check.as_str()).collect();
    let ask = if requirement.asks_when_outside() {
        " Ask the office."
    } else {
        ""
    };
    match names.as_slice() {
        [] => ask.to_owned(),
        names => format!("{ask} Made good by: {}.", names.join(", ")),
    }
}

/// Settings must be live on the tracker before the picture can mean anything.
fn proof_warning(judging: &JudgingContext<'_>, job: &JobView) -> Option<String> {
    let against = judging.if_signed_off(&job.job);
    let says = |rule: &str| against.iter().any(|f| f.is_open() && f.rule == rule);
    if says("signed-without-link") {
        Some(format!(
            "Job {} has no linked camera that this device knows of: a picture proves nothing before the link and live settings.",
            job.job
        ))
    } else if says("signed-before-live") {
        Some(format!(
            "The tracker of job {} has no live settings after its link that this device knows of: a picture proves nothing before they are live.",
            job.job
        ))
    } else {
        None
    }
}

fn settings_warning(judging: &JudgingContext<'_>, fact: &Fact) -> Option<String> {
    let tracker = fact.text("tracker")?;
    let about = judging.facts().about(&Subject::Tracker(tracker.to_string()));
    let ties = Ties::among(&about);
    let fits = |camera: &str| fact.text("camera").is_none_or(|c| c == camera);
    let linked = ties
        .live()
        .into_iter()
        .any(|l| l.tracker == *tracker && fits(&l.camera));
    (!linked).then(|| {
        format!("Tracker {tracker} has no linked camera that this device knows of; settings count only after the link.")
    })
}

fn link_warning(judging: &JudgingContext<'_>, fact: &Fact) -> Option<String> {
    let (camera, tracker) = (fact.text("camera")?, fact.text("tracker")?);
    let subjects = [
        Subject::Camera(camera.to_string()),
        Subject::Tracker(tracker.to_string()),
    ];
    let in_job = |s: &Subject| judging.facts().about(s).iter().any(|w| w.fact.text("job").is_some());
    (!subjects.iter().any(in_job)).then(|| {
        format!("No job known here names camera {camera} or tracker {tracker}: record the link again with --job JOB.")
    })
}

/// A cut without a clear answer, where the rule about loaded trailers does not speak already.
fn cut_unclear(judging: &JudgingContext<'_>, receipt: &Receipt, job: &JobView, findings: &[Finding]) -> Option<String> {
    let cut = clearance::cuts(judging, job)
        .into_iter()
        .find(|w| w.place == receipt.place)?;
    if findings.iter().any(|f| f.rule == "cut-without-clearance") {
        return None;
    }
    let mut known = job.clone();
    known.facts.retain(|w| w.happens_before(&cut));
    let answer = clearance::of(judging, &known).answer;
    (!answer.is_clear()).then(|| format!("The wall was not cleared for a cut. {}.", clearance::brief(&answer)))
}
