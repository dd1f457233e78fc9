//! One job as a report shows it.

use std::collections::BTreeSet;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::finding::{Finding, Severity};
use crate::job::JobView;
use crate::names::Names;
use crate::recorded_fact::RecordedFact;

/// Between the values of a field that holds several.
const SEVERAL: &str = " | ";

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

/// A job in a report. A field with several values shows all of them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct JobLine {
    /// Its name.
    pub job: String,
    /// The trailer's unit number.
    pub trailer: Option<String>,
    /// The trailer's VIN.
    pub vin: Option<String>,
    /// The customer.
    pub fleet: Option<String>,
    /// The place of work.
    pub yard: Option<String>,
    /// The tracker.
    pub tracker: Option<String>,
    /// The camera.
    pub camera: Option<String>,
    /// The kind of wall.
    pub wall: Option<String>,
    /// Empty or loaded.
    pub load: Option<String>,
    /// How far it has come.
    pub state: JobState,
    /// Whether the trailer can be relied on.
    pub relied_on: Reliance,
    /// When it was opened.
    pub opened_at: Option<String>,
    /// By whom.
    pub opened_by: Option<String>,
    /// On which device.
    pub opened_on: Option<String>,
    /// When it was last signed off.
    pub signed_at: Option<String>,
    /// By whom.
    pub signed_by: Option<String>,
    /// On which device.
    pub signed_on: Option<String>,
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
    let field = |name: &str| joined(job.values(name));
    let state = job_state(job);
    let (opened, signed) = (job.openings(), job.latest_sign_offs());
    JobLine {
        job: job.job.clone(),
        trailer: field("trailer"),
        vin: field("vin"),
        fleet: field("fleet"),
        yard: field("yard"),
        tracker: joined(job.trackers.iter().cloned()),
        camera: joined(job.cameras.iter().cloned()),
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

fn times(deeds: &[Arc<RecordedFact>]) -> Option<String> {
    joined(deeds.iter().map(|w| w.at().text().to_owned()))
}

fn people(deeds: &[Arc<RecordedFact>]) -> Option<String> {
    joined(deeds.iter().filter_map(|w| w.owned("by")))
}

fn devices(names: &dyn Names, deeds: &[Arc<RecordedFact>]) -> Option<String> {
    joined(deeds.iter().map(|w| names.device_name(&w.place.log.device)))
}

/// The values, each once, in the order given; nothing when there are none.
fn joined(values: impl IntoIterator<Item = String>) -> Option<String> {
    let mut seen = BTreeSet::new();
    let values: Vec<String> = values.into_iter().filter(|v| seen.insert(v.clone())).collect();
    (!values.is_empty()).then(|| values.join(SEVERAL))
}

impl JobLine {
    /// The heads of the columns of a table of jobs.
    pub fn columns() -> [&'static str; 18] {
        [
            "job",
            "trailer",
            "vin",
            "fleet",
            "yard",
            "tracker",
            "camera",
            "wall",
            "load",
            "state",
            "relied_on",
            "opened_at",
            "opened_by",
            "opened_on",
            "signed_at",
            "signed_by",
            "signed_on",
            "findings",
        ]
    }

    /// The job as a row under [`JobLine::columns`]. What is not known is empty; findings stand one space apart.
    pub fn row(&self) -> [String; 18] {
        let text = |value: &Option<String>| value.clone().unwrap_or_default();
        [
            self.job.clone(),
            text(&self.trailer),
            text(&self.vin),
            text(&self.fleet),
            text(&self.yard),
            text(&self.tracker),
            text(&self.camera),
            text(&self.wall),
            text(&self.load),
            self.state.name().to_owned(),
            self.relied_on.name().to_owned(),
            text(&self.opened_at),
            text(&self.opened_by),
            text(&self.opened_on),
            text(&self.signed_at),
            text(&self.signed_by),
            text(&self.signed_on),
            self.findings.join(" "),
        ]
    }
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
