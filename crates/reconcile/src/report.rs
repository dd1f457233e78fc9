//! The reconciled shift report: which jobs were done, and which trailers can be relied on.
//!
//! A report is a function of the merged facts, the work standard and the filter. It holds no time of making
//! and no name of the node, so two nodes that know the same print the same bytes.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::{Moment, VersionVector};
use serde::{Deserialize, Serialize};

use crate::counted::{ApprovalLine, counted};
use crate::counting::{Counting, withdrawals};
use crate::finding::{Finding, Severity, Status};
use crate::job::JobView;
use crate::job_line::job_line;
use crate::judge::sort;
use crate::names::Names;
use crate::recorded_fact::compared_by;
use crate::subject::{Class, Subject};
use crate::touching::Touching;
use crate::trailer::siblings;
use crate::trailer_line::trailer_line;
use crate::words::told::ToldFinding;
use crate::world::World;

pub use crate::job_line::{JobLine, JobState, job_state};
pub use crate::reliance::{Reliance, WhyNot};
pub use crate::trailer_line::TrailerLine;

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
    /// Their trailers, by unit number.
    pub trailers: Vec<TrailerLine>,
    /// The findings that touch these jobs, and those that touch no job.
    pub findings: Vec<ToldFinding>,
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
            Some(value) => job.value_keys(field).contains(&compared_by(field, value)),
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
    pub fn make(
        world: &World<'_>,
        names: &dyn Names,
        findings: &[Finding],
        filter: &Filter,
        vector: &VersionVector,
    ) -> Self {
        let counting = Counting::new(world);
        let now = World {
            facts: &counting,
            ..*world
        };
        let touching = Touching::new(findings);
        let line = |view: &JobView| {
            let others = siblings(now.facts, view);
            let trailers = view.value_keys("trailer");
            let jobs = others.iter().chain([view]).map(|job| job.key.as_str());
            let found = touching.any(jobs, trailers.iter().map(String::as_str));
            let withdrawn = withdrawals(world, &world.facts.about(&Subject::Job(view.key.clone())));
            let approvals = counted(&now, view, &withdrawn).into_iter();
            let approvals = approvals.map(|counted| ApprovalLine::of(names, counted));
            job_line(names, view, &others, &found, approvals.collect())
        };
        let (mut jobs, mut keys) = (Vec::new(), BTreeSet::new());
        let mut trailers: BTreeMap<String, Option<TrailerLine>> = BTreeMap::new();
        // All that is told of a job is told while its facts are at hand: an index reads them once then, and no more than a few jobs
        // are in memory.
        for subject in now.facts.subjects(Class::Job) {
            let view = JobView::load(now.facts, &subject.text());
            if !filter.takes(&view) {
                continue;
            }
            jobs.push(line(&view));
            for key in view.value_keys("trailer") {
                let told = || trailer_line(&now, names, &touching, &key);
                trailers.entry(key.clone()).or_insert_with(told);
            }
            keys.insert(view.key);
        }
        let findings = concerning(findings, &keys);
        Self {
            scope: filter.scope(),
            standard: world.standard.version().to_owned(),
            vector: vector.iter().map(|(log, seq)| (log.to_string(), seq)).collect(),
            totals: Totals::count(&jobs, &findings),
            findings: ToldFinding::all(&findings, names),
            jobs,
            trailers: trailers.into_values().flatten().collect(),
        }
    }

    /// Whether an open `stop` finding is among its findings.
    pub fn has_open_stop(&self) -> bool {
        let stops = |f: &ToldFinding| f.is_open() && f.severity == Severity::Stop;
        self.findings.iter().any(stops)
    }
}

/// The findings that touch one of `jobs`, or no job at all.
fn concerning(findings: &[Finding], jobs: &BTreeSet<String>) -> Vec<Finding> {
    let concerns = |f: &&Finding| f.jobs.is_empty() || f.jobs.iter().any(|job| jobs.contains(job));
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
