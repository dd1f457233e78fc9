//! What a job waits for, as steps to record: each with the command line that records it.

use gladhand_reconcile::JobView;

use crate::advice::{self, quoted};
use crate::clearance::clearance;
use crate::judging::JudgingContext;
use crate::step::Step;
use crate::waits::{Wait, WaitsFor};

/// The steps that end these waits, in order, each once.
pub(crate) fn of(judging: &JudgingContext<'_>, job: &JobView, waits: &[Wait]) -> Vec<Step> {
    let mut found: Vec<Step> = Vec::new();
    for step in waits.iter().flat_map(|wait| steps(judging, job, wait)) {
        if !found.contains(&step) {
            found.push(step);
        }
    }
    found
}

fn steps(judging: &JudgingContext<'_>, job: &JobView, wait: &Wait) -> Vec<Step> {
    let tracker = job.trackers.first().map_or("TRACKER".to_owned(), |t| quoted(t));
    let camera = job.cameras.first().map_or("CAMERA".to_owned(), |c| quoted(c));
    let name = quoted(&job.job);
    let one = |step: &str, command: String| vec![job_step(job, step, command)];
    match wait.what {
        WaitsFor::Fields | WaitsFor::Readings | WaitsFor::Office | WaitsFor::MakeGood | WaitsFor::Cut => {
            clearance(judging, job).record
        }
        WaitsFor::Checks => {
            let checks = wait.checks.iter();
            checks
                .map(|c| advice::check_step(judging.standard(), job, &c.check))
                .collect()
        }
        WaitsFor::Link => one("link", format!("gladhand link {camera} {tracker} --job {name}")),
        WaitsFor::SettingsAsked => one(
            "settings-asked",
            format!("gladhand settings {tracker} asked --job {name}"),
        ),
        WaitsFor::SettingsLive => one(
            "settings-live",
            format!("gladhand settings {tracker} live --job {name}"),
        ),
        WaitsFor::ProofAsked => one("proof-asked", format!("gladhand proof {name} asked")),
        WaitsFor::ProofTaken => one(
            "proof-taken",
            format!("gladhand proof {name} taken --picture FILE --taken-at TIME"),
        ),
        WaitsFor::ProofJudged => one("proof-judged", judged(judging, &name)),
        WaitsFor::SignOff => one("sign-off", format!("gladhand sign-off {name}")),
        WaitsFor::Look => Vec::new(),
    }
}

/// No answer is put into anybody's mouth: each stands as a word in capitals.
fn judged(judging: &JudgingContext<'_>, job: &str) -> String {
    let answers = judging.standard().proof_answers().iter();
    let each: String = answers.map(|answer| format!(" --answer {answer}=ANSWER")).collect();
    format!("gladhand proof {job} judged{each}")
}

fn job_step(job: &JobView, step: &str, command: String) -> Step {
    Step {
        step: step.to_owned(),
        job: Some(job.job.clone()),
        command,
        ..Step::default()
    }
}
