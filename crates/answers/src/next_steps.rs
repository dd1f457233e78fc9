//! What a job waits for, as steps to record: each with the command line that records it.

use std::collections::BTreeSet;

use gladhand_reconcile::JobView;

use crate::advice::{self, quoted};
use crate::clearance::clearance;
use crate::judging::JudgingContext;
use crate::step::{Step, StepKind};
use crate::waits::{Wait, WaitsFor};

/// The steps that end these waits, in order, each once. What would record the cut is left out until the wall may be cut.
pub(crate) fn of(judging: &JudgingContext<'_>, job: &JobView, waits: &[Wait]) -> Vec<Step> {
    let before_the_cut = [WaitsFor::Readings, WaitsFor::Fields];
    let is_early = waits.iter().any(|wait| before_the_cut.contains(&wait.what));
    let cuts = judging.standard().cut_shown_by();
    let records_cut = |step: &Step| step.check.as_ref().is_some_and(|check| cuts.contains(check));
    let mut found: Vec<Step> = Vec::new();
    for step in waits.iter().flat_map(|wait| steps(judging, job, wait)) {
        let is_too_early = is_early && records_cut(&step);
        if !is_too_early && !found.contains(&step) {
            found.push(step);
        }
    }
    found
}

fn steps(judging: &JudgingContext<'_>, job: &JobView, wait: &Wait) -> Vec<Step> {
    let one = |kind: StepKind, command: fn(String) -> String| vec![Step::of(kind, job, command)];
    match wait.what {
        WaitsFor::Fields | WaitsFor::Readings | WaitsFor::Office | WaitsFor::MakeGood | WaitsFor::Cut => {
            clearance(judging, job).record
        }
        WaitsFor::Checks => {
            let checks = wait.checks.iter();
            let step = |check: &str| advice::check_step(judging.standard(), job, check);
            checks.map(|outstanding| step(&outstanding.check)).collect()
        }
        WaitsFor::Link => vec![link(job)],
        WaitsFor::Unlink => vec![unlink(job)],
        WaitsFor::SettingsAsked => vec![settings(job, StepKind::SettingsAsked, "asked")],
        WaitsFor::SettingsLive => vec![settings(job, StepKind::SettingsLive, "live")],
        WaitsFor::ProofAsked => one(StepKind::ProofAsked, |job| format!("gladhand proof {job} asked")),
        WaitsFor::ProofTaken => vec![taken(job)],
        WaitsFor::ProofJudged => vec![judged(judging, job)],
        WaitsFor::SignOff => one(StepKind::SignOff, |job| format!("gladhand sign-off {job}")),
        WaitsFor::Look => Vec::new(),
    }
}

fn link(job: &JobView) -> Step {
    let (camera, of_camera) = part("CAMERA", &job.cameras);
    let (tracker, of_tracker) = part("TRACKER", &job.trackers);
    let step = Step::of(StepKind::Link, job, |job| {
        format!("gladhand link {camera} {tracker} --job {job}")
    });
    let with: Vec<String> = of_camera.into_iter().chain(of_tracker).collect();
    if with.is_empty() {
        step
    } else {
        step.with(&with.join("; "))
    }
}

fn unlink(job: &JobView) -> Step {
    let live = job.ties.live();
    let cameras = live.iter().map(|link| link.camera.clone()).collect();
    let trackers = live.iter().map(|link| link.tracker.clone()).collect();
    let ((camera, of_camera), (tracker, of_tracker)) = (part("CAMERA", &cameras), part("TRACKER", &trackers));
    let step = Step::of(StepKind::Unlink, job, |job| {
        format!("gladhand unlink {camera} {tracker} --job {job}")
    });
    let with: Vec<String> = of_camera.into_iter().chain(of_tracker).collect();
    if with.is_empty() {
        step
    } else {
        step.with(&with.join("; "))
    }
}

/// Settings belong to the tracker that is linked, whatever the job's field says.
fn settings(job: &JobView, kind: StepKind, state: &str) -> Step {
    let linked: BTreeSet<String> = job.ties.live().into_iter().map(|link| link.tracker.clone()).collect();
    let (tracker, with) = part("TRACKER", &linked);
    Step {
        with,
        ..Step::of(kind, job, |job| {
            format!("gladhand settings {tracker} {state} --job {job}")
        })
    }
}

/// The one code that it can be, as a shell takes it. Otherwise the word in capitals, and what belongs there.
fn part(word: &str, codes: &BTreeSet<String>) -> (String, Option<String>) {
    let codes: Vec<&str> = codes.iter().map(String::as_str).collect();
    match codes.as_slice() {
        [] => (word.to_owned(), Some(format!("{word}: the code on its label"))),
        [one] => (quoted(one), None),
        several => (word.to_owned(), Some(format!("{word}: {}", several.join(" or ")))),
    }
}

fn taken(job: &JobView) -> Step {
    let step = Step::of(StepKind::ProofTaken, job, |job| {
        format!("gladhand proof {job} taken --picture FILE --taken-at TIME")
    });
    step.with("FILE: the picture; TIME: when it was taken, such as 2026-03-02T10:14:00-05:00")
}

/// No judgement is suggested: the judgement and each answer stand as words in capitals.
fn judged(judging: &JudgingContext<'_>, job: &JobView) -> Step {
    let answers = judging.standard().proof_answers();
    let each: String = answers
        .iter()
        .map(|answer| format!(" --answer {answer}=ANSWER"))
        .collect();
    let step = Step::of(StepKind::ProofJudged, job, |job| {
        format!("gladhand proof {job} judged JUDGEMENT{each}")
    });
    Step {
        choices: answers.to_vec(),
        ..step.with("JUDGEMENT: --ok or --not-ok; ANSWER: yes or no")
    }
}
