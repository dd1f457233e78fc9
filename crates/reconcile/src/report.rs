//! The reconciled shift report: which jobs were done, and which trailers can be relied on.
//!
//! A report is a function of the merged facts, the work standard and the filter. It holds no time of making
//! and no name of the node, so two nodes that know the same print the same bytes.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use gladhand_facts::{Moment, VersionVector};
use serde::{Deserialize, Serialize};

use crate::finding::{Finding, Severity, Status};
use crate::job::JobView;
use crate::judge::{World, sort};
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;

/// Which jobs a report is about. What is not given does not restrict.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Filter {
    /// From this time on, in microseconds since 1970 (UTC).
    pub from_us: Option<i64>,
    /// Up to, and without, this time.
    pub to_us: Option<i64>,
    /// Only this yard.
    pub yard: Option<String>,
    /// Only this fleet.
    pub fleet: Option<String>,
}

/// What a report was asked for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Scope {
    /// From this time on (UTC).
    pub from: Option<String>,
    /// Up to, and without, this time (UTC).
    pub to: Option<String>,
    /// Only this yard.
    pub yard: Option<String>,
    /// Only this fleet.
    pub fleet: Option<String>,
}

/// Counts over a report.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Totals {
    /// Jobs in the report.
    pub jobs: usize,
    /// Jobs by state.
    pub states: BTreeMap<JobState, usize>,
    /// Jobs by what can be said of their trailers.
    pub relied_on: BTreeMap<Reliance, usize>,
    /// Open findings by severity.
    pub open: BTreeMap<Severity, usize>,
    /// Findings that a ruling settled.
    pub settled: usize,
    /// Findings that later facts cleared.
    pub cleared: usize,
}

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
    /// Signed off, and nothing open speaks against it.
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

/// A shift report.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Report {
    /// What was asked for.
    pub scope: Scope,
    /// The version of the work standard that judged.
    pub standard: String,
    /// What was known: for each log its last entry.
    pub vector: BTreeMap<String, u64>,
    /// Counts.
    pub totals: Totals,
    /// The jobs, by name.
    pub jobs: Vec<JobLine>,
    /// The findings that touch these jobs, and those that touch no job.
    pub findings: Vec<Finding>,
}

impl Filter {
    fn scope(&self) -> Scope {
        let written = |us: i64| Moment::from_unix_us(us, 0).text().to_owned();
        Scope {
            from: self.from_us.map(written),
            to: self.to_us.map(written),
            yard: self.yard.clone(),
            fleet: self.fleet.clone(),
        }
    }

    fn takes(&self, job: &JobView) -> bool {
        let is = |wanted: &Option<String>, field: &str| match wanted {
            Some(value) => job.values(field).iter().any(|v| v == value.trim()),
            None => true,
        };
        self.takes_time(job) && is(&self.yard, "yard") && is(&self.fleet, "fleet")
    }

    fn takes_time(&self, job: &JobView) -> bool {
        if self.from_us.is_none() && self.to_us.is_none() {
            return true;
        }
        let within = |us: i64| self.from_us.is_none_or(|from| from <= us) && self.to_us.is_none_or(|to| us < to);
        job.facts.iter().any(|w| within(w.at().unix_us()))
    }
}

impl Report {
    /// Makes the report from the facts of `world` and its `findings`, with `vector` as what was known.
    pub fn make(world: &World<'_>, findings: &[Finding], filter: &Filter, vector: &VersionVector) -> Self {
        let mut by_job: BTreeMap<&str, Vec<&Finding>> = BTreeMap::new();
        for finding in findings {
            for job in &finding.jobs {
                by_job.entry(job).or_default().push(finding);
            }
        }
        let subjects = world.facts.subjects(Class::Job);
        let jobs: Vec<JobLine> = subjects
            .iter()
            .map(|subject| JobView::load(world.facts, &subject.text()))
            .filter(|view| filter.takes(view))
            .map(|view| job_line(world, &view, by_job.get(view.job.as_str()).map_or(&[], Vec::as_slice)))
            .collect();
        let findings = chosen(findings, &jobs);
        Self {
            scope: filter.scope(),
            standard: world.standard.version().to_owned(),
            vector: vector.iter().map(|(log, seq)| (log.to_string(), seq)).collect(),
            totals: Totals::count(&jobs, &findings),
            jobs,
            findings,
        }
    }

    /// Whether an open `stop` finding is among its findings.
    pub fn has_open_stop(&self) -> bool {
        let stops = |f: &Finding| f.is_open() && f.severity == Severity::Stop;
        self.findings.iter().any(stops)
    }
}

/// The findings that touch one of `jobs`, or no job at all.
fn chosen(findings: &[Finding], jobs: &[JobLine]) -> Vec<Finding> {
    let names: BTreeSet<&str> = jobs.iter().map(|j| j.job.as_str()).collect();
    let concerns = |f: &&Finding| f.jobs.is_empty() || f.jobs.iter().any(|j| names.contains(j.as_str()));
    let mut chosen: Vec<Finding> = findings.iter().filter(concerns).cloned().collect();
    sort(&mut chosen);
    chosen
}

impl Totals {
    fn count(jobs: &[JobLine], findings: &[Finding]) -> Self {
        let mut totals = Self {
            jobs: jobs.len(),
            ..Self::default()
        };
        for job in jobs {
            *totals.states.entry(job.state).or_default() += 1;
            *totals.relied_on.entry(job.relied_on).or_default() += 1;
        }
        for finding in findings {
            match finding.status {
                Status::Open => *totals.open.entry(finding.severity).or_default() += 1,
                Status::Settled => totals.settled += 1,
                Status::Cleared => totals.cleared += 1,
            }
        }
        totals
    }
}

/// How far a job has come. A stand-down that no sign-off followed wins: in doubt nobody relies on the trailer.
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

fn job_line(world: &World<'_>, job: &JobView, findings: &[&Finding]) -> JobLine {
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
        opened_on: devices(world, &opened),
        signed_at: times(&signed),
        signed_by: people(&signed),
        signed_on: devices(world, &signed),
        findings: findings.iter().map(|f| f.id.clone()).collect(),
    }
}

fn times(deeds: &[Arc<RecordedFact>]) -> Vec<String> {
    each_once(deeds.iter().map(|w| w.at().text().to_owned()))
}

fn people(deeds: &[Arc<RecordedFact>]) -> Vec<String> {
    each_once(deeds.iter().filter_map(|w| w.owned("by")))
}

fn devices(world: &World<'_>, deeds: &[Arc<RecordedFact>]) -> Vec<String> {
    each_once(deeds.iter().map(|w| world.facts.device_name(&w.place.log.device)))
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
