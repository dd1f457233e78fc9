//! Everything about one job: its fields, pairs, each check done or open, findings, and what comes next.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_node::{Node, environment};
use gladhand_reconcile::checks::{CheckState, Checks, Outcome, required};
use gladhand_reconcile::report::{JobState, Reliance, job_state, reliance};
use gladhand_reconcile::{Finding, JobView, RecordedFact};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::deed::Deed;
use crate::error::AnswerError;
use crate::judging::JudgingContext;
use crate::next_steps;
use crate::resolve;
use crate::shown_finding::ShownFinding;
use crate::step::Step;
use crate::waits::{self, Wait};

/// One job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JobShown {
    /// Its name.
    pub job: String,
    /// How far it has come.
    #[schemars(with = "String", extend("enum" = ["open", "signed-off", "stood-down"]))]
    pub state: JobState,
    /// Whether its trailer can be relied on.
    #[schemars(with = "String", extend("enum" = ["yes", "no", "ask", "not-yet"]))]
    pub relied_on: Reliance,
    /// Its fields. Several values stand where they were written without knowing of each other.
    pub fields: Vec<Field>,
    /// The live links of its cameras and trackers.
    pub pairs: Vec<Pair>,
    /// Who opened it.
    pub opened: Vec<Deed>,
    /// Who signed it off last.
    pub signed_off: Vec<Deed>,
    /// Who stood it down.
    pub stood_down: Vec<Deed>,
    /// The required checks, in the order of the work standard.
    pub checks: Vec<ShownCheck>,
    /// The findings that touch it.
    pub findings: Vec<ShownFinding>,
    /// What it waits for.
    pub waits: Vec<Wait>,
    /// What to record next.
    pub next: Vec<Step>,
    /// The version of the work standard that judges.
    pub standard: String,
}

/// A field of a job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Field {
    /// Its name.
    pub field: String,
    /// Its values.
    pub values: Vec<String>,
}

/// A camera and a tracker that a live link ties.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Pair {
    /// The camera.
    pub camera: String,
    /// The tracker.
    pub tracker: String,
    /// Who linked them.
    pub linked: Deed,
}

/// How a required check stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ShownCheck {
    /// Its name.
    pub check: String,
    /// Whether it is as the work standard wants it.
    pub outcome: CheckOutcome,
    /// Why not, where something was recorded.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub why: Option<String>,
    /// Who recorded the facts that decide.
    pub recorded: Vec<Deed>,
}

/// Whether a check is as the work standard wants it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum CheckOutcome {
    /// It is.
    Good,
    /// Nothing was recorded that can be read.
    Missing,
    /// It was recorded and fails.
    Failed,
}

/// Everything about the job that `given` names.
///
/// # Errors
/// When no job is called that, or when the store cannot be read.
pub fn job_shown(node: &mut Node, given: &str) -> Result<JobShown, AnswerError> {
    let name = resolve::known_job(node, given)?;
    let mut findings = node.findings()?;
    findings.retain(|f| f.jobs.contains(&name));
    let judging = JudgingContext::new(node);
    let shown = shown(&judging, &judging.job(&name), &findings);
    judging.check()?;
    Ok(shown)
}

pub(crate) fn shown(judging: &JudgingContext<'_>, job: &JobView, findings: &[Finding]) -> JobShown {
    let state = job_state(job);
    let waits = match state {
        JobState::Open => waits::of(judging, job, environment::now_us()),
        JobState::SignedOff | JobState::StoodDown => Vec::new(),
    };
    let deeds = |facts: &[Arc<RecordedFact>]| facts.iter().map(|fact| Deed::of(judging, fact)).collect();
    JobShown {
        job: job.job.clone(),
        state,
        relied_on: reliance(state, &findings.iter().collect::<Vec<_>>()),
        fields: fields(job),
        pairs: pairs(judging, job),
        opened: deeds(&job.openings()),
        signed_off: deeds(&job.latest_sign_offs()),
        stood_down: deeds(&job.standing_stand_downs()),
        checks: checks(judging, job),
        findings: ShownFinding::all(findings, judging.names()),
        next: next_steps::of(judging, job, &waits),
        waits,
        standard: judging.standard().version().to_owned(),
    }
}

fn fields(job: &JobView) -> Vec<Field> {
    let named = job.fields.keys().map(|field| Field {
        field: field.clone(),
        values: job.values(field),
    });
    named.filter(|field| !field.values.is_empty()).collect()
}

pub(crate) fn pairs(judging: &JudgingContext<'_>, job: &JobView) -> Vec<Pair> {
    let mut seen = BTreeSet::new();
    let live = job.ties.live().into_iter();
    let pairs = live.map(|link| Pair {
        camera: link.camera.clone(),
        tracker: link.tracker.clone(),
        linked: Deed::of(judging, &link.recorded),
    });
    pairs
        .filter(|pair| seen.insert((pair.camera.clone(), pair.tracker.clone())))
        .collect()
}

fn checks(judging: &JudgingContext<'_>, job: &JobView) -> Vec<ShownCheck> {
    let world = judging.world();
    let states = Checks::so_far(&world, job);
    let required = required(&world, job).into_iter();
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
    ShownCheck {
        check: state.requirement.name().to_owned(),
        outcome,
        why,
        recorded: state.facts.iter().map(|fact| Deed::of(judging, fact)).collect(),
    }
}
