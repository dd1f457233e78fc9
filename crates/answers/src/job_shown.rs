//! Everything about one job: its fields, its pairs, how each required check stands, its findings, and what comes next.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_node::Node;
use gladhand_reconcile::checks::{CheckState, Checks, Outcome};
use gladhand_reconcile::recorded_fact::latest;
use gladhand_reconcile::reliance::{Reliance, WhyNot, reliance};
use gladhand_reconcile::report::{JobState, job_state};
use gladhand_reconcile::{Finding, JobView};
use gladhand_trade::Wants;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::clearance::Taken;
use crate::deed::Deed;
use crate::error::AnswerError;
use crate::judging::JudgingContext;
use crate::next_steps;
use crate::report::{RELIED_WORDS, WHY_NOT_WORDS};
use crate::resolve;
use crate::shown_finding::ShownFinding;
use crate::step::Step;
use crate::waits::{self, Wait};

/// One job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JobShown {
    /// The job's name.
    pub job: String,
    /// How far it has come: open, signed off, or stood down and not signed off after that.
    #[schemars(with = "String", extend("enum" = ["open", "signed-off", "stood-down"]))]
    pub state: JobState,
    /// Whether the trailer can be relied on: `yes` when nothing open speaks against it, `no`, `ask` when a person must look
    /// first, `not-yet` when the job is not signed off.
    #[schemars(with = "String", extend("enum" = RELIED_WORDS))]
    pub relied_on: Reliance,
    /// Why it is not simply relied on; absent when it is.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    #[schemars(with = "Option<String>", extend("enum" = WHY_NOT_WORDS))]
    pub why_not: Option<WhyNot>,
    /// The fields of the job that are set (`trailer`, `fleet`, `yard`, `camera`, `tracker`, `wall` and so on), each with its
    /// values: several where they were written without knowing of each other.
    pub fields: BTreeMap<String, Vec<String>>,
    /// The links of its cameras and trackers that no unlink took off, also those that other jobs made.
    pub pairs: Vec<Pair>,
    /// Who opened it; several where they did not know of each other.
    pub opened: Vec<Deed>,
    /// Who signed it off last; several where they did not know of each other.
    pub signed_off: Vec<Deed>,
    /// Who stood it down, where no sign-off followed.
    pub stood_down: Vec<Deed>,
    /// The checks that a sign-off needs, in the order of the work standard.
    pub checks: Vec<ShownCheck>,
    /// The findings that touch it, also those that are settled or cleared.
    pub findings: Vec<ShownFinding>,
    /// What it waits for; empty when it is not open.
    pub waits: Vec<Wait>,
    /// How to record what it waits for, in the order of the work; nothing that records the cut before the wall may be cut.
    pub record: Vec<Step>,
    /// The version of the work standard that judges.
    pub standard: String,
}

/// A camera and a tracker that are linked.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Pair {
    /// The camera.
    pub camera: String,
    /// The tracker.
    pub tracker: String,
    /// The job that the link names; null when it names none.
    pub job: Option<String>,
    /// Who linked them.
    pub linked: Deed,
}

/// A check that a sign-off needs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ShownCheck {
    /// Its name in the work standard.
    pub check: String,
    /// Whether it is as the work standard wants it.
    pub outcome: CheckOutcome,
    /// Why it is not, in words, where something was recorded.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub why: Option<String>,
    /// The measures that the work standard takes as good, for reading; absent where it wants no measure.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub range: Option<String>,
    /// The facts that decide, in the order in which they stand in their logs.
    pub recorded: Vec<DecidingFact>,
    /// Whose approval lets a value outside the range pass.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub approved_by: Vec<Deed>,
}

/// Whether a check is as the work standard wants it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum CheckOutcome {
    /// It is.
    Good,
    /// Nothing was recorded, or nothing that can be read.
    Missing,
    /// It was recorded and fails.
    Failed,
}

/// A recorded check that decides.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct DecidingFact {
    /// What was recorded.
    #[serde(flatten)]
    pub taken: Taken,
    /// The name of the device that recorded it.
    pub device: String,
}

/// Everything about the job that `given` names, `now_us` being this device's time in microseconds since 1970.
///
/// # Errors
/// When no job, or several, are called that, or when the store cannot be read.
pub fn job_shown(node: &Node, given: &str, now_us: i64) -> Result<JobShown, AnswerError> {
    let name = resolve::known_job(node, given)?;
    let judging = JudgingContext::new(node);
    let shown = shown(&judging, &judging.job(&name), now_us)?;
    judging.check()?;
    Ok(shown)
}

fn shown(judging: &JudgingContext<'_>, job: &JobView, now_us: i64) -> Result<JobShown, AnswerError> {
    let others = judging.siblings(job);
    let all: Vec<&JobView> = others.iter().chain([job]).collect();
    let trailers = job.value_keys("trailer");
    let keys = all.iter().map(|job| job.key.as_str());
    let findings = judging
        .node()
        .kept_findings_touching(keys, trailers.iter().map(String::as_str))?;
    let touching: Vec<&Finding> = findings.iter().collect();
    let (relied_on, why_not) = reliance(&all, &touching);
    let own = touching.into_iter().filter(|f| f.jobs.contains(&job.key));
    let state = job_state(job);
    let waits = match state {
        JobState::Open => waits::of(judging, job, now_us),
        JobState::SignedOff | JobState::StoodDown => Vec::new(),
    };
    Ok(JobShown {
        job: job.job.clone(),
        state,
        relied_on,
        why_not,
        fields: fields(job),
        pairs: pairs(judging, [job]),
        opened: Deed::all(judging, &job.openings()),
        signed_off: Deed::all(judging, &job.latest_sign_offs()),
        stood_down: Deed::all(judging, &latest(&job.standing_stand_downs())),
        checks: checks(judging, job),
        findings: ShownFinding::all(own, judging.names()),
        record: next_steps::of(judging, job, &waits),
        waits,
        standard: judging.standard().version().to_owned(),
    })
}

fn fields(job: &JobView) -> BTreeMap<String, Vec<String>> {
    let named = job.fields.keys().map(|field| (field.clone(), job.values(field)));
    named.filter(|(_, values)| !values.is_empty()).collect()
}

/// The live links of the parts of these jobs, each pair once.
pub(crate) fn pairs<'j>(judging: &JudgingContext<'_>, jobs: impl IntoIterator<Item = &'j JobView>) -> Vec<Pair> {
    let mut seen = BTreeSet::new();
    let live = jobs.into_iter().flat_map(|job| job.ties.live());
    let first_of_pair = live.filter(|link| seen.insert((link.camera.clone(), link.tracker.clone())));
    let pairs = first_of_pair.map(|link| Pair {
        camera: link.camera.clone(),
        tracker: link.tracker.clone(),
        job: link.recorded.owned("job"),
        linked: Deed::of(judging, &link.recorded),
    });
    pairs.collect()
}

fn checks(judging: &JudgingContext<'_>, job: &JobView) -> Vec<ShownCheck> {
    let world = judging.world();
    let states = Checks::so_far(&world, job);
    let required = states.required().into_iter();
    required
        .map(|check| shown_check(judging, states.state(check)))
        .collect()
}

fn shown_check(judging: &JudgingContext<'_>, state: CheckState<'_>) -> ShownCheck {
    let (outcome, why) = match state.outcome {
        Outcome::Good => (CheckOutcome::Good, None),
        Outcome::Missing(why) => (CheckOutcome::Missing, why),
        Outcome::Failed(reasons) => (CheckOutcome::Failed, reasons.into_iter().next().map(|(_, why)| why)),
    };
    let range = match state.requirement.wants() {
        Wants::Measure(band) | Wants::Wait { band, .. } => Some(band.to_string()),
        Wants::Seen | Wants::Answers(_) | Wants::Reading | Wants::YesOrNo => None,
    };
    let deciding = state.facts.iter().map(|fact| DecidingFact {
        taken: Taken::of(fact),
        device: judging.names().device_name(&fact.place.log.device),
    });
    ShownCheck {
        check: state.requirement.name().to_owned(),
        outcome,
        why,
        range,
        recorded: deciding.collect(),
        approved_by: Deed::all(judging, &state.approved_by),
    }
}

#[cfg(test)]
#[path = "job_shown_tests.rs"]
mod tests;
