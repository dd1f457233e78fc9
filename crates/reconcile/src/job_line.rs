//! One job as a report shows it.

use std::collections::BTreeSet;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::counted::ApprovalLine;
use crate::finding::Finding;
use crate::job::JobView;
use crate::names::Names;
use crate::recorded_fact::RecordedFact;
use crate::reliance::{Reliance, WhyNot, reliance};
use crate::subject::Subject;
use crate::ties::Tie;

/// How far a job has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum JobState {
    /// Neither signed off nor stood down.
    Open,
    /// Declared done.
    SignedOff,
    /// Given up, and not signed off after that.
    StoodDown,
}

/// A job in a report. Where a field may hold several values all of them are listed, each once.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct JobLine {
    /// Its name.
    pub job: String,
    /// The trailer's unit number.
    pub trailer: Vec<String>,
    /// The trailer's VIN.
    pub vin: Vec<String>,
    /// The customer.
    pub fleet: Vec<String>,
    /// The place of work.
    pub yard: Vec<String>,
    /// What the visit is for.
    pub purpose: String,
    /// The tracker of the live pair.
    pub tracker: Vec<String>,
    /// The camera of the live pair.
    pub camera: Vec<String>,
    /// The tracker that the job names.
    pub planned_tracker: Vec<String>,
    /// The camera that the job names.
    pub planned_camera: Vec<String>,
    /// The kind of wall.
    pub wall: Vec<String>,
    /// Empty or loaded.
    pub load: Vec<String>,
    /// How far it has come.
    pub state: JobState,
    /// Whether the trailer can be relied on, by all the jobs on it.
    pub relied_on: Reliance,
    /// Why not, where it is not simply yes.
    pub why_not: Option<WhyNot>,
    /// When it was opened.
    pub opened_at: Vec<String>,
    /// By whom.
    pub opened_by: Vec<String>,
    /// On which device.
    pub opened_on: Vec<String>,
    /// When it was last signed off.
    pub signed_at: Vec<String>,
    /// By whom.
    pub signed_by: Vec<String>,
    /// On which device.
    pub signed_on: Vec<String>,
    /// The approvals on which it stands.
    pub approvals: Vec<ApprovalLine>,
    /// The findings that touch it.
    pub findings: Vec<String>,
}

/// How far a job has come. A stand-down that no sign-off followed wins: in doubt the trailer is not relied on.
pub fn job_state(job: &JobView) -> JobState {
    if !job.standing_stand_downs().is_empty() {
        JobState::StoodDown
    } else if job.sign_offs.is_empty() {
        JobState::Open
    } else {
        JobState::SignedOff
    }
}

/// The line of a job. `others` are the other jobs on its trailer, `findings` those that touch any of these, `approvals` those on
/// which it stands.
pub(crate) fn job_line(
    names: &dyn Names,
    job: &JobView,
    others: &[JobView],
    findings: &[&Finding],
    approvals: Vec<ApprovalLine>,
) -> JobLine {
    let field = |name: &str| each_once(job.values(name));
    let coded = |name: &str, subject: fn(String) -> Subject| {
        let keys = job.value_keys(name).into_iter();
        keys.map(|key| names.spelling(&subject(key))).collect::<Vec<_>>()
    };
    let (opened, signed) = (job.openings(), job.latest_sign_offs());
    let live = job.ties.live();
    let all: Vec<&JobView> = others.iter().chain([job]).collect();
    let (relied_on, why_not) = reliance(&all, findings);
    let own = findings.iter().filter(|f| f.jobs.contains(&job.key));
    JobLine {
        job: job.job.clone(),
        trailer: coded("trailer", Subject::Trailer),
        vin: field("vin"),
        fleet: field("fleet"),
        yard: field("yard"),
        purpose: job.purpose().word().to_owned(),
        tracker: trackers(names, &live),
        camera: cameras(names, &live),
        planned_tracker: coded("tracker", Subject::Tracker),
        planned_camera: coded("camera", Subject::Camera),
        wall: field("wall"),
        load: field("load"),
        state: job_state(job),
        relied_on,
        why_not,
        opened_at: times(&opened),
        opened_by: people(&opened),
        opened_on: devices(names, &opened),
        signed_at: times(&signed),
        signed_by: people(&signed),
        signed_on: devices(names, &signed),
        approvals,
        findings: own.map(|f| f.id.clone()).collect(),
    }
}

/// The cameras of these links, each once, as they are shown.
pub(crate) fn cameras(names: &dyn Names, links: &[&Tie]) -> Vec<String> {
    let cameras = links.iter().map(|tie| Subject::Camera(tie.camera_key.clone()));
    each_once(cameras.map(|camera| names.spelling(&camera)))
}

/// The trackers of these links, each once, as they are shown.
pub(crate) fn trackers(names: &dyn Names, links: &[&Tie]) -> Vec<String> {
    let trackers = links.iter().map(|tie| Subject::Tracker(tie.tracker_key.clone()));
    each_once(trackers.map(|tracker| names.spelling(&tracker)))
}

pub(crate) fn times(deeds: &[Arc<RecordedFact>]) -> Vec<String> {
    each_once(deeds.iter().map(|w| w.at().text().to_owned()))
}

pub(crate) fn people(deeds: &[Arc<RecordedFact>]) -> Vec<String> {
    each_once(deeds.iter().filter_map(|w| w.owned("by")))
}

fn devices(names: &dyn Names, deeds: &[Arc<RecordedFact>]) -> Vec<String> {
    each_once(deeds.iter().map(|w| names.device_name(&w.place.log.device)))
}

/// The values, each once, in the order given.
pub(crate) fn each_once(values: impl IntoIterator<Item = String>) -> Vec<String> {
    let mut seen = BTreeSet::new();
    values.into_iter().filter(|v| seen.insert(v.clone())).collect()
}

impl JobState {
    /// The written word.
    pub fn name(self) -> &'static str {
        match self {
            Self::Open => "open",
            Self::SignedOff => "signed-off",
            Self::StoodDown => "stood-down",
        }
    }
}
