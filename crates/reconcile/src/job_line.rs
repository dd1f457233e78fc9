//! One job as a report shows it.

use std::collections::BTreeSet;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::finding::{Finding, Severity};
use crate::job::JobView;
use crate::names::Names;
use crate::recorded_fact::RecordedFact;

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

/// Whether the trailer of a job can be relied on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reliance {
    /// Signed off, with no open finding above a note.
    Yes,
    /// Signed off, with an open `stop`; or stood down.
    No,
    /// Signed off, and a person must look first.
    Ask,
    /// Not signed off.
    NotYet,
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
    /// The tracker.
    pub tracker: Vec<String>,
    /// The camera.
    pub camera: Vec<String>,
    /// The kind of wall.
    pub wall: Vec<String>,
    /// Empty or loaded.
    pub load: Vec<String>,
    /// How far it has come.
    pub state: JobState,
    /// Whether the trailer can be relied on.
    pub relied_on: Reliance,
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

/// Whether the trailer of a job in `state` can be relied on, given the findings that touch the job.
pub fn reliance(state: JobState, findings: &[&Finding]) -> Reliance {
    let worst = findings.iter().filter(|f| f.is_open()).map(|f| f.severity).max();
    match (state, worst) {
        (JobState::Open, _) => Reliance::NotYet,
        (JobState::StoodDown, _) | (_, Some(Severity::Stop)) => Reliance::No,
        (_, Some(Severity::Ask)) => Reliance::Ask,
        _ => Reliance::Yes,
    }
}

pub(crate) fn job_line(names: &dyn Names, job: &JobView, findings: &[&Finding]) -> JobLine {
    let field = |name: &str| each_once(job.values(name));
    let state = job_state(job);
    let (opened, signed) = (job.openings(), job.latest_sign_offs());
    JobLine {
        job: job.job.clone(),
        trailer: field("trailer"),
        vin: field("vin"),
        fleet: field("fleet"),
        yard: field("yard"),
        tracker: each_once(job.trackers.iter().cloned()),
        camera: each_once(job.cameras.iter().cloned()),
        wall: field("wall"),
        load: field("load"),
        state,
        relied_on: reliance(state, findings),
        opened_at: times(&opened),
        opened_by: people(&opened),
        opened_on: devices(names, &opened),
        signed_at: times(&signed),
        signed_by: people(&signed),
        signed_on: devices(names, &signed),
        findings: findings.iter().map(|f| f.id.clone()).collect(),
    }
}

fn times(deeds: &[Arc<RecordedFact>]) -> Vec<String> {
    each_once(deeds.iter().map(|w| w.at().text().to_owned()))
}

fn people(deeds: &[Arc<RecordedFact>]) -> Vec<String> {
    each_once(deeds.iter().filter_map(|w| w.owned("by")))
}

fn devices(names: &dyn Names, deeds: &[Arc<RecordedFact>]) -> Vec<String> {
    each_once(deeds.iter().map(|w| names.device_name(&w.place.log.device)))
}

/// The values, each once, in the order given.
fn each_once(values: impl IntoIterator<Item = String>) -> Vec<String> {
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

impl Reliance {
    /// The written word.
    pub fn name(self) -> &'static str {
        match self {
            Self::Yes => "yes",
            Self::No => "no",
            Self::Ask => "ask",
            Self::NotYet => "not-yet",
        }
    }
}
