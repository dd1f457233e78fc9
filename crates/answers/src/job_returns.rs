//! The jobs to come back to: those that were signed off or given up, and whose trailer is not as it should be.
//!
//! A signed job is among them when open findings speak against it, when no camera is linked on its trailer, or when two signed jobs do
//! not know of each other. A job that was stood down is among them until a later job on its trailer takes over.
//!
//! Deliberately absent: open jobs, which `job next` lists, and planned ones.
//!
//! Invariant: a trailer that can be relied on brings no signed job into the list.

use gladhand_facts::Kind;
use gladhand_node::{Node, NodeError};
use gladhand_reconcile::counting::Counting;
use gladhand_reconcile::recorded_fact::latest;
use gladhand_reconcile::reliance::{Reliance, WhyNot, reliance};
use gladhand_reconcile::report::{JobState, job_state};
use gladhand_reconcile::touching::Touching;
use gladhand_reconcile::trailer::{has_seen, speaker};
use gladhand_reconcile::{Class, Facts, Finding, JobView, RecordedFact, Severity, Subject};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::deed::Deed;
use crate::judging::JudgingContext;
use crate::report::{RELIED_WORDS, WHY_NOT_WORDS};
use crate::shown_finding::ShownFinding;

/// The jobs to come back to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JobReturns {
    /// The one that ended longest ago first.
    pub jobs: Vec<JobToReturnTo>,
}

/// A job to come back to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JobToReturnTo {
    /// Its name.
    pub job: String,
    /// The trailer's unit number; several where they were written without knowing of each other.
    pub trailer: Vec<String>,
    /// The customer; several where they were written without knowing of each other.
    pub fleet: Vec<String>,
    /// How it ended: signed off, or stood down and not signed off after that.
    #[schemars(with = "String", extend("enum" = ["signed-off", "stood-down"]))]
    pub state: JobState,
    /// Who signed it off or stood it down; several where they did not know of each other.
    pub ended: Vec<Deed>,
    /// Whether the trailer can be relied on, by all jobs on it; see the report.
    #[schemars(with = "String", extend("enum" = RELIED_WORDS))]
    pub relied_on: Reliance,
    /// Why it is not simply relied on; absent when it is.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    #[schemars(with = "Option<String>", extend("enum" = WHY_NOT_WORDS))]
    pub why_not: Option<WhyNot>,
    /// Why somebody has to come back.
    pub why: Vec<WhyReturn>,
    /// The open findings that touch the job and that somebody has to act on.
    pub findings: Vec<ShownFinding>,
    /// Why it was stood down, as it was written; empty for a signed job.
    pub reasons: Vec<String>,
    /// Where the trailer was last.
    pub last: LastSeen,
    /// The jobs on the trailer that are open or planned: somebody may be about it already.
    pub under_way: Vec<String>,
}

/// Why somebody has to come back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum WhyReturn {
    /// Open findings speak against the job.
    OpenFindings,
    /// It was stood down, and no later job on the trailer took over.
    StoodDown,
    /// No camera is linked on the trailer.
    NoPair,
    /// Two signed jobs of which neither had seen the other.
    NobodySpeaks,
}

/// Where a trailer was last.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct LastSeen {
    /// The place of work of the job that was last at it; several where they were written without knowing of each other.
    pub yard: Vec<String>,
    /// To whom it was handed over, when that came last.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub handed_over_to: Option<String>,
    /// The last thing that was recorded about it.
    pub by: Option<Deed>,
}

/// The jobs to come back to.
///
/// # Errors
/// When the store cannot be read.
pub fn job_returns(node: &Node) -> Result<JobReturns, NodeError> {
    let findings = node.kept_findings()?;
    let judging = JudgingContext::new(node);
    let touching = Touching::new(&findings);
    let ended = judging.facts().subjects(Class::Job).into_iter();
    let ended = ended
        .map(|job| judging.job(&job.text()))
        .filter(|job| job_state(job) != JobState::Open);
    let mut found: Vec<(i64, JobToReturnTo)> = ended
        .filter_map(|job| Ended::new(&judging, &touching, job).to_return_to())
        .collect();
    found.sort_by(|(a_us, a), (b_us, b)| (a_us, &a.job).cmp(&(b_us, &b.job)));
    judging.check()?;
    Ok(JobReturns {
        jobs: found.into_iter().map(|(_, job)| job).collect(),
    })
}

/// A job that has ended, with the other jobs on its trailer.
struct Ended<'a> {
    judging: &'a JudgingContext<'a>,
    job: JobView,
    others: Vec<JobView>,
    relied_on: Reliance,
    why_not: Option<WhyNot>,
    /// The open findings that touch it and ask for something.
    against: Vec<&'a Finding>,
}

impl<'a> Ended<'a> {
    fn new(judging: &'a JudgingContext<'a>, touching: &Touching<'a>, job: JobView) -> Self {
        let others = judging.siblings(&job);
        let trailers = job.value_keys("trailer");
        let all: Vec<&JobView> = others.iter().chain([&job]).collect();
        let keys = all.iter().map(|job| job.key.as_str());
        let concerning = touching.any(keys, trailers.iter().map(String::as_str));
        let (relied_on, why_not) = reliance(&all, &concerning);
        let is_own = |f: &&Finding| f.is_open() && f.severity != Severity::Note && f.jobs.contains(&job.key);
        Self {
            against: concerning.into_iter().filter(is_own).collect(),
            judging,
            job,
            others,
            relied_on,
            why_not,
        }
    }

    /// With the time when it ended; `None` when nobody has to come back.
    fn to_return_to(&self) -> Option<(i64, JobToReturnTo)> {
        let why = self.why();
        if why.is_empty() {
            return None;
        }
        let (job, judging) = (&self.job, self.judging);
        let state = job_state(job);
        let ended = match state {
            JobState::StoodDown => latest(&job.standing_stand_downs()),
            _ => job.latest_sign_offs(),
        };
        let ended_us = ended.iter().map(|w| w.at().unix_us()).min()?;
        let open = self.others.iter().filter(|other| job_state(other) == JobState::Open);
        let found = JobToReturnTo {
            job: job.job.clone(),
            trailer: job.values("trailer"),
            fleet: job.values("fleet"),
            state,
            relied_on: self.relied_on,
            why_not: self.why_not,
            why,
            findings: ShownFinding::all(self.against.iter().copied(), judging.names()),
            reasons: match state {
                JobState::StoodDown => ended.iter().filter_map(|w| reason(w)).collect(),
                _ => Vec::new(),
            },
            ended: Deed::all(judging, &ended),
            last: self.last(),
            under_way: open.map(|other| other.job.clone()).collect(),
        };
        Some((ended_us, found))
    }

    fn why(&self) -> Vec<WhyReturn> {
        let is_signed = job_state(&self.job) == JobState::SignedOff;
        let rows = [
            (!self.against.is_empty(), WhyReturn::OpenFindings),
            (!is_signed && !self.is_taken_over(), WhyReturn::StoodDown),
            (is_signed && self.lacks_its_pair(), WhyReturn::NoPair),
            (is_signed && self.is_unseen(), WhyReturn::NobodySpeaks),
        ];
        rows.into_iter()
            .filter(|(holds, _)| *holds)
            .map(|(_, why)| why)
            .collect()
    }

    /// Whether a job on the trailer that was opened or signed off after the stand-down is not given up itself.
    fn is_taken_over(&self) -> bool {
        let (ends, world) = (self.job.standing_stand_downs(), self.judging.world());
        let takes_over = |other: &JobView| {
            let begun = [other.openings(), other.latest_sign_offs()].concat();
            begun
                .iter()
                .any(|begun| ends.iter().all(|end| world.clocks.before(end, begun)))
        };
        let mut others = self.others.iter();
        others.any(|other| job_state(other) != JobState::StoodDown && takes_over(other))
    }

    /// Whether no camera is linked although this job says the last word on the trailer.
    fn lacks_its_pair(&self) -> bool {
        let all: Vec<&JobView> = self.others.iter().chain([&self.job]).collect();
        self.why_not == Some(WhyNot::NoPair) && speaker(&all).is_some_and(|job| job.key == self.job.key)
    }

    /// Whether nobody speaks for the trailer, and no other signed job had this one in view.
    fn is_unseen(&self) -> bool {
        let mut signed = self.others.iter().filter(|other| other.is_signed());
        self.why_not == Some(WhyNot::NobodySpeaks) && !signed.any(|other| has_seen(other, &self.job))
    }

    fn last(&self) -> LastSeen {
        let world = self.judging.world();
        let counting = Counting::new(&world);
        let newest = |job: &JobView| job.facts.iter().max_by_key(|w| w.at().unix_us()).cloned();
        let all = self.others.iter().chain([&self.job]);
        let visited = all.filter_map(|job| Some((newest(job)?, job)));
        let visited = visited.max_by_key(|(w, _)| (w.at().unix_us(), w.place));
        let trailers = self.job.value_keys("trailer").into_iter();
        let about = trailers.flat_map(|trailer| counting.about(&Subject::Trailer(trailer)));
        let handed_over = about
            .filter(|w| w.is(&Kind::Handover))
            .max_by_key(|w| (w.at().unix_us(), w.place));
        let seen_us = visited.as_ref().map(|(w, _)| w.at().unix_us());
        let handed_over = handed_over.filter(|w| Some(w.at().unix_us()) >= seen_us);
        let yard = visited.as_ref().map_or_else(Vec::new, |(_, job)| job.values("yard"));
        let last = handed_over.clone().or(visited.map(|(w, _)| w));
        LastSeen {
            yard,
            handed_over_to: handed_over.and_then(|w| w.owned("to")),
            by: last.map(|w| Deed::of(self.judging, &w)),
        }
    }
}

/// `weather: rain came`.
fn reason(stand_down: &RecordedFact) -> Option<String> {
    let said: Vec<String> = ["reason", "why"]
        .into_iter()
        .filter_map(|key| stand_down.owned(key))
        .collect();
    (!said.is_empty()).then(|| said.join(": "))
}

#[cfg(test)]
#[path = "job_returns_tests.rs"]
mod tests;
