//! A trailer's life: its jobs in order, the pairs that are linked now, who judged the pictures, and the open findings.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::Kind;
use gladhand_node::Node;
use gladhand_reconcile::order::in_causal_order;
use gladhand_reconcile::recorded_fact::latest;
use gladhand_reconcile::report::{JobState, Reliance, job_state, reliance};
use gladhand_reconcile::{Finding, JobView, RecordedFact, Subject};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::deed::Deed;
use crate::error::{AnswerError, ResolveError};
use crate::job_shown::{Pair, pairs};
use crate::judging::JudgingContext;
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
    /// Whether the trailer can be relied on, as far as this job tells: `yes` when nothing open speaks against it, `no`, `ask`
    /// when a person must look first, `not-yet` when the job is not signed off.
    #[schemars(with = "String", extend("enum" = ["yes", "no", "ask", "not-yet"]))]
    pub relied_on: Reliance,
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
pub fn trailer_shown(node: &mut Node, given: &str) -> Result<TrailerShown, AnswerError> {
    let trailer = given.trim().to_owned();
    let findings = node.findings()?;
    let judging = JudgingContext::new(node);
    let jobs = jobs_on(&judging, &trailer);
    judging.check()?;
    if jobs.is_empty() {
        return Err(ResolveError::NoTrailer(trailer).into());
    }
    let names: BTreeSet<&str> = jobs.iter().map(|job| job.job.as_str()).collect();
    let subject = Subject::trailer(&trailer);
    let concerns = |f: &&Finding| f.subject == subject || f.jobs.iter().any(|job| names.contains(job.as_str()));
    let concerning: Vec<&Finding> = findings.iter().filter(concerns).collect();
    let each = |field: &str| -> Vec<String> {
        let values: BTreeSet<String> = jobs.iter().flat_map(|job| job.values(field)).collect();
        values.into_iter().collect()
    };
    let shown = TrailerShown {
        vin: each("vin"),
        fleet: each("fleet"),
        jobs: jobs.iter().map(|job| trailer_job(&judging, job, &concerning)).collect(),
        pairs: pairs(&judging, &jobs),
        findings: concerning
            .iter()
            .filter(|f| f.is_open())
            .map(|f| ShownFinding::of(f, judging.names()))
            .collect(),
        trailer,
    };
    judging.check()?;
    Ok(shown)
}

/// The jobs that name the trailer now, in the order of their first facts.
fn jobs_on(judging: &JudgingContext<'_>, trailer: &str) -> Vec<JobView> {
    let about = judging.facts().about(&Subject::trailer(trailer));
    let mut names = Vec::new();
    for job in in_causal_order(&about).iter().filter_map(|fact| fact.owned("job")) {
        if !names.contains(&job) {
            names.push(job);
        }
    }
    let views = names.iter().map(|job| judging.job(job));
    views
        .filter(|job| job.values("trailer").iter().any(|t| t == trailer))
        .collect()
}

fn trailer_job(judging: &JudgingContext<'_>, job: &JobView, findings: &[&Finding]) -> TrailerJob {
    let state = job_state(job);
    let of_job: Vec<&Finding> = findings.iter().filter(|f| f.jobs.contains(&job.job)).copied().collect();
    TrailerJob {
        job: job.job.clone(),
        state,
        relied_on: reliance(state, &of_job),
        opened: Deed::all(judging, &job.openings()),
        proven: Deed::all(judging, &proven(job)),
        signed_off: Deed::all(judging, &job.latest_sign_offs()),
        stood_down: Deed::all(judging, &job.standing_stand_downs()),
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
