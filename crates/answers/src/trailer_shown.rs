//! A trailer's life: its jobs in order, the pairs that are linked now, who judged the pictures, and the open findings.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::{Kind, code_key};
use gladhand_node::Node;
use gladhand_reconcile::order::in_causal_order;
use gladhand_reconcile::recorded_fact::latest;
use gladhand_reconcile::reliance::{Reliance, WhyNot, reliance};
use gladhand_reconcile::report::{JobState, job_state};
use gladhand_reconcile::{Finding, JobView, RecordedFact, Subject};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::deed::Deed;
use crate::error::{AnswerError, ResolveError};
use crate::job_shown::{Pair, pairs};
use crate::judging::JudgingContext;
use crate::report::{RELIED_WORDS, WHY_NOT_WORDS};
use crate::shown_finding::ShownFinding;

/// One trailer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TrailerShown {
    /// The trailer's unit number.
    pub trailer: String,
    /// The VINs that its jobs give it.
    pub vin: Vec<String>,
    /// The customers that its jobs name.
    pub fleet: Vec<String>,
    /// Whether it can be relied on, by all jobs on it; see the report.
    #[schemars(with = "String", extend("enum" = RELIED_WORDS))]
    pub relied_on: Reliance,
    /// Why it is not simply relied on; absent when it is.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    #[schemars(with = "Option<String>", extend("enum" = WHY_NOT_WORDS))]
    pub why_not: Option<WhyNot>,
    /// Its jobs, in the order in which they were opened.
    pub jobs: Vec<TrailerJob>,
    /// The links of its jobs' cameras and trackers that no unlink took off, also those that jobs on other trailers made.
    pub pairs: Vec<Pair>,
    /// The open findings that touch one of its jobs or the trailer itself.
    pub findings: Vec<ShownFinding>,
}

/// A job on a trailer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TrailerJob {
    /// The job's name.
    pub job: String,
    /// How far it has come: open, signed off, or stood down and not signed off after that.
    #[schemars(with = "String", extend("enum" = ["open", "signed-off", "stood-down"]))]
    pub state: JobState,
    /// What the visit is for.
    #[schemars(extend("enum" = ["fit", "replace", "take-off", "prove"]))]
    pub purpose: String,
    /// Who opened it; several where they did not know of each other.
    pub opened: Vec<Deed>,
    /// Who judged its proof picture last; empty when that was not judged good.
    pub proven: Vec<Deed>,
    /// Who signed it off last; several where they did not know of each other.
    pub signed_off: Vec<Deed>,
    /// Who stood it down, where no sign-off followed.
    pub stood_down: Vec<Deed>,
}

/// The life of the trailer with this unit number.
///
/// # Errors
/// When no job names such a trailer, or when the store cannot be read.
pub fn trailer_shown(node: &Node, given: &str) -> Result<TrailerShown, AnswerError> {
    let key = code_key(given);
    let judging = JudgingContext::new(node);
    let jobs = jobs_on(&judging, &key);
    judging.check()?;
    if jobs.is_empty() {
        return Err(ResolveError::NoTrailer(given.trim().to_owned()).into());
    }
    let findings = node.kept_findings_touching(jobs.iter().map(|job| job.key.as_str()), [key.as_str()])?;
    let concerning: Vec<&Finding> = findings.iter().collect();
    let (relied_on, why_not) = reliance(&jobs.iter().collect::<Vec<_>>(), &concerning);
    let each = |field: &str| -> Vec<String> {
        let values: BTreeSet<String> = jobs.iter().flat_map(|job| job.values(field)).collect();
        values.into_iter().collect()
    };
    let shown = TrailerShown {
        vin: each("vin"),
        fleet: each("fleet"),
        jobs: jobs.iter().map(|job| trailer_job(&judging, job)).collect(),
        pairs: pairs(&judging, &jobs),
        findings: concerning
            .iter()
            .filter(|f| f.is_open())
            .map(|f| ShownFinding::of(f, judging.names()))
            .collect(),
        relied_on,
        why_not,
        trailer: judging.names().spelling(&Subject::Trailer(key)),
    };
    judging.check()?;
    Ok(shown)
}

/// The jobs that name the trailer now, in the order of their first facts.
fn jobs_on(judging: &JudgingContext<'_>, trailer: &str) -> Vec<JobView> {
    let about = judging.facts().about(&Subject::Trailer(trailer.to_owned()));
    let mut names = Vec::new();
    for job in in_causal_order(&about)
        .iter()
        .filter(|w| w.is(&Kind::Job))
        .filter_map(|w| w.key("job"))
    {
        if !names.contains(&job) {
            names.push(job);
        }
    }
    let views = names.iter().map(|job| judging.job(job));
    views
        .filter(|job| job.value_keys("trailer").contains(trailer))
        .collect()
}

fn trailer_job(judging: &JudgingContext<'_>, job: &JobView) -> TrailerJob {
    TrailerJob {
        job: job.job.clone(),
        state: job_state(job),
        purpose: job.purpose().word().to_owned(),
        opened: Deed::all(judging, &job.openings()),
        proven: Deed::all(judging, &proven(job)),
        signed_off: Deed::all(judging, &job.latest_sign_offs()),
        stood_down: Deed::all(judging, &latest(&job.standing_stand_downs())),
    }
}

/// The latest judgements of the picture, when all of them are good.
fn proven(job: &JobView) -> Vec<Arc<RecordedFact>> {
    let judged = job.of_kind(&Kind::Proof).filter(|w| w.is_state(&Kind::Proof, "judged"));
    let last = latest(&judged.cloned().collect::<Vec<_>>());
    let all_good = last.iter().all(|w| w.fact.flag("ok") == Some(true));
    if all_good { last } else { Vec::new() }
}

#[cfg(test)]
#[path = "trailer_shown_tests.rs"]
mod tests;
