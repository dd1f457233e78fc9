//! A finding as people and scripts read it.

use gladhand_facts::FactId;
use serde::{Deserialize, Serialize};

use crate::finding::{Finding, Ruling, Severity, Standing, Status};
use crate::names::Names;
use crate::subject::Subject;
use crate::words::describe::describe;
use crate::words::described::NextStep;

/// A finding in words. The keys and their order are those of its JSON.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ToldFinding {
    /// The same on every node for the same rule and subject.
    pub id: String,
    /// The rule.
    pub rule: String,
    /// How much it matters.
    pub severity: Severity,
    /// The subject without its class: a code, a job, a unit number, a device's key.
    pub subject: String,
    /// The jobs that it touches.
    pub jobs: Vec<String>,
    /// The trailers that it touches.
    #[serde(default)]
    pub trailers: Vec<String>,
    /// The facts that make it, sorted.
    pub facts: Vec<FactId>,
    /// Whether the recorders could have known.
    pub standing: Standing,
    /// Whether somebody has to act.
    pub status: Status,
    /// One plain sentence.
    pub says: String,
    /// What to do.
    pub next: String,
    /// The same as data.
    pub step: NextStep,
    /// What settled it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub ruling: Option<Ruling>,
}

impl ToldFinding {
    /// Puts a finding into words.
    pub fn of(finding: &Finding, names: &dyn Names) -> Self {
        let described = describe(finding, names);
        let shown = |keys: &[String], subject: fn(String) -> Subject| {
            keys.iter().map(|key| names.spelling(&subject(key.clone()))).collect()
        };
        Self {
            id: finding.id.clone(),
            rule: finding.rule.clone(),
            severity: finding.severity,
            subject: names.spelling(&finding.subject),
            jobs: shown(&finding.jobs, Subject::Job),
            trailers: shown(&finding.trailers, Subject::Trailer),
            facts: finding.facts.clone(),
            standing: finding.standing,
            status: finding.status,
            says: described.says,
            next: described.next,
            step: described.step,
            ruling: finding.ruling.clone(),
        }
    }

    /// Puts several findings into words.
    pub fn all<'f>(findings: impl IntoIterator<Item = &'f Finding>, names: &dyn Names) -> Vec<Self> {
        let mut findings: Vec<(usize, &Finding)> = findings.into_iter().enumerate().collect();
        // Those of one job after the other: an index that reads its facts for their names reads them once then.
        findings.sort_by(|(m, a), (n, b)| (a.jobs.first(), m).cmp(&(b.jobs.first(), n)));
        let mut told: Vec<(usize, Self)> = findings.into_iter().map(|(n, f)| (n, Self::of(f, names))).collect();
        told.sort_by_key(|(n, _)| *n);
        told.into_iter().map(|(_, told)| told).collect()
    }

    /// Whether somebody has to act.
    pub fn is_open(&self) -> bool {
        self.status == Status::Open
    }
}
