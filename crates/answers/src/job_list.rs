//! The open jobs and what each waits for, so that an installer with five trailers open knows where to go.
//!
//! The jobs of this person or device come first, then the others that are known here; within both the one that has waited
//! longest. Minutes are counted by this device's clock from the last thing that was recorded for what is waited for.

use gladhand_node::{Node, NodeError};
use gladhand_reconcile::JobView;
use gladhand_reconcile::report::{JobState, job_state};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::judging::JudgingContext;
use crate::waits::{self, Wait};

/// The open jobs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct JobList {
    /// Own ones first, the longest wait first.
    pub jobs: Vec<OpenJob>,
}

/// An open job and what it waits for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct OpenJob {
    /// Its name.
    pub job: String,
    /// The trailer's unit number; several where they were written without knowing of each other.
    pub trailer: Vec<String>,
    /// The customer; several where they were written without knowing of each other.
    pub fleet: Vec<String>,
    /// The place of work; several where they were written without knowing of each other.
    pub yard: Vec<String>,
    /// Whether it is assigned to this person, or to nobody and was opened by this person or on this device.
    pub own: bool,
    /// Minutes since the oldest of what it waits for, by this device's clock.
    pub minutes: i64,
    /// What it waits for.
    pub waits: Vec<Wait>,
}

/// The open jobs, `now_us` being this device's time in microseconds since 1970.
///
/// # Errors
/// When the store cannot be read.
pub fn job_list(node: &Node, now_us: i64) -> Result<JobList, NodeError> {
    let judging = JudgingContext::new(node);
    let jobs = judging.open_jobs();
    let views = jobs.iter().map(|job| judging.job(job));
    let open = views.filter(|job| job_state(job) == JobState::Open);
    let mut jobs: Vec<OpenJob> = open.map(|job| open_job(&judging, &job, now_us)).collect();
    jobs.sort_by(|a, b| (!a.own, -a.minutes, &a.job).cmp(&(!b.own, -b.minutes, &b.job)));
    judging.check()?;
    Ok(JobList { jobs })
}

fn open_job(judging: &JudgingContext<'_>, job: &JobView, now_us: i64) -> OpenJob {
    let waits = waits::of(judging, job, now_us);
    OpenJob {
        job: job.job.clone(),
        trailer: job.values("trailer"),
        fleet: job.values("fleet"),
        yard: job.values("yard"),
        own: is_own(judging, job),
        minutes: waits.iter().map(|w| w.minutes).max().unwrap_or(0),
        waits,
    }
}

/// Whether the job is this person's: it is assigned to them, or it is assigned to nobody and they or this device opened it.
fn is_own(judging: &JudgingContext<'_>, job: &JobView) -> bool {
    let person = judging.node().config().person.as_str();
    let assigned = job.values("assigned");
    if !assigned.is_empty() {
        return assigned.iter().any(|a| a == person);
    }
    job.openings().iter().any(|w| {
        let here = w.place.log.device == judging.node().device();
        here || (!person.is_empty() && w.fact.text("by").as_deref() == Some(person))
    })
}
