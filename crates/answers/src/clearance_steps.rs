//! What a clearance answer asks a person to record next, and what to mind before it.

use gladhand_reconcile::JobView;
use gladhand_trade::names::{APPROVAL, PILOT_SEALED};
use gladhand_trade::{Answer, Standard};

use crate::advice;
use crate::clearance::{cuts, has_open_pilot};
use crate::judging::JudgingContext;
use crate::step::{Step, StepKind};
use crate::torn::Torn;

pub(crate) fn steps(judging: &JudgingContext<'_>, job: &JobView, answer: &Answer, torn: &[Torn]) -> Vec<Step> {
    let standard = judging.standard();
    let check = |name: &str| advice::check_step(standard, job, name);
    let seal = has_open_pilot(judging, job).then(|| check(PILOT_SEALED));
    match answer {
        Answer::Next { check: name, .. } => vec![check(name)],
        Answer::Unknown { missing } => missing.iter().map(|m| advice::missing_step(standard, job, m)).collect(),
        Answer::Clear { .. } if cuts(judging, job).is_empty() => {
            standard.cut_shown_by().iter().map(|c| check(c)).collect()
        }
        Answer::Clear { .. } => Vec::new(),
        Answer::Blocked { .. } => seal.into_iter().chain(stand_down(standard, job)).collect(),
        Answer::NotDecidable { .. } if !torn.is_empty() => {
            let fields = torn.iter().map(|t| advice::missing_step(standard, job, &t.field));
            fields.collect()
        }
        Answer::NotDecidable { again, may_approve, .. } => {
            let again = again.as_deref().map(|name| advice::missing_step(standard, job, name));
            let approval = may_approve.then(|| approval(job));
            let end = stand_down(standard, job);
            again.into_iter().chain(approval).chain(seal).chain(end).collect()
        }
    }
}

/// How somebody else's approval of the reading is recorded.
fn approval(job: &JobView) -> Step {
    let step = Step::of(StepKind::RecordCheck, job, |job| {
        format!("gladhand check {job} {APPROVAL} --ok --of reading --by WHO")
    });
    Step {
        check: Some(APPROVAL.to_owned()),
        ..step.with("WHO: who approves; nobody who read it, and nobody who cuts")
    }
}

/// How the job is stood down; none where it is.
fn stand_down(standard: &Standard, job: &JobView) -> Option<Step> {
    if !job.standing_stand_downs().is_empty() {
        return None;
    }
    let reasons: Vec<String> = standard
        .stand_down_reasons()
        .iter()
        .map(|r| r.name().to_owned())
        .collect();
    let step = |flags: &str| {
        Step::of(StepKind::StandDown, job, |job| {
            format!("gladhand stand-down {job} {flags}")
        })
    };
    Some(if reasons.is_empty() {
        step("--why 'WHY'")
    } else {
        Step {
            with: Some(format!("REASON: {}", reasons.join(", "))),
            choices: reasons,
            ..step("--reason REASON --why 'WHY'")
        }
    })
}

/// The cautions of the step that comes next.
pub(crate) fn cautions(judging: &JudgingContext<'_>, job: &JobView, answer: &Answer) -> Vec<String> {
    let standard = judging.standard();
    let step = |check: &str| advice::step_of(standard, check).to_owned();
    let steps: Vec<String> = match answer {
        Answer::Next { check, .. } => vec![step(check)],
        Answer::Unknown { missing } => missing.iter().map(|m| step(m)).collect(),
        Answer::Clear { .. } if cuts(judging, job).is_empty() => {
            standard.cut_shown_by().iter().map(|c| step(c)).collect()
        }
        Answer::Clear { .. } => Vec::new(),
        Answer::NotDecidable { again: Some(check), .. } => vec![step(check)],
        Answer::Blocked { .. } | Answer::NotDecidable { .. } if has_open_pilot(judging, job) => {
            vec![step(PILOT_SEALED)]
        }
        Answer::Blocked { .. } | Answer::NotDecidable { .. } => Vec::new(),
    };
    let steps: Vec<&str> = steps.iter().map(String::as_str).collect();
    advice::cautions(standard, &steps)
}
