//! Views of the current state: reports, the work standard in force, clocks, and all facts in memory ready to be judged.
//!
//! Deliberately absent: the past ([`crate::past`]), and words for people.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::{DeviceKey, LogId, Place, VersionVector};
use gladhand_logbook::roster::Roster;
use gladhand_reconcile::{
    Class, Clocks, DeviceNames, Facts, Filter, Finding, Fork, MemoryFacts, RecordedFact, Report, Sight, Subject,
    ToldFinding, World, judge_all,
};
use gladhand_trade::Standard;

use crate::error::NodeError;
use crate::in_force::{clocks_of, standard_of};
use crate::indexed_facts::IndexedFacts;
use crate::node::Node;
use crate::past::Past;

/// The merged facts in memory, with the work standard and clocks to judge them by.
pub struct View {
    facts: MemoryFacts,
    names: DeviceNames,
    standard: Standard,
    clocks: Clocks,
    vector: VersionVector,
}

impl Node {
    /// All facts that count here, with the work standard and clocks to judge them by.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn view(&self) -> Result<View, NodeError> {
        Ok(View {
            facts: self.all_facts()?,
            names: names_in(self.book.roster()),
            standard: self.standard(),
            clocks: self.clocks(),
            vector: self.counting_vector(),
        })
    }

    /// Findings in words, with the names that devices have now or had at a moment.
    pub fn told(&self, findings: &[Finding], past: Option<&Past>) -> Vec<ToldFinding> {
        ToldFinding::all(findings, &IndexedFacts::at(self, past))
    }

    /// The shift report as of now.
    ///
    /// # Errors
    /// When journal or index cannot be read or written.
    pub fn report(&mut self, filter: &Filter) -> Result<Report, NodeError> {
        self.judge()?;
        self.kept_report(filter)
    }

    /// The shift report, with the findings that are kept: those as of the last judging.
    ///
    /// # Errors
    /// When journal or index cannot be read.
    pub fn kept_report(&self, filter: &Filter) -> Result<Report, NodeError> {
        let (standard, clocks, indexed) = (self.standard(), self.clocks(), IndexedFacts::new(self));
        let vector = self.counting_vector();
        let make = |facts: &dyn Facts, findings: &[Finding]| {
            let world = World {
                facts,
                standard: &standard,
                clocks: &clocks,
            };
            Report::make(&world, &indexed, findings, filter, &vector)
        };
        let report = match filter.from_us {
            None => make(&indexed, &self.kept_findings()?),
            Some(from_us) => {
                // A week of a long history is looked up, so that the rest of it need not be read.
                let jobs = self.jobs_between(from_us, filter.to_us.unwrap_or(i64::MAX), &indexed)?;
                let (around, trailers) = on_the_trailers_of(&jobs, &indexed);
                let findings = self.kept_findings_for(&around, &trailers)?;
                let some = SomeJobs {
                    facts: &indexed,
                    jobs: jobs.into_iter().collect(),
                };
                make(&some, &findings)
            }
        };
        indexed.failure()?;
        Ok(report)
    }

    /// The jobs that have a fact which may have happened between these times, and maybe some more.
    fn jobs_between(
        &self,
        from_us: i64,
        to_us: i64,
        indexed: &IndexedFacts<'_>,
    ) -> Result<BTreeSet<Subject>, NodeError> {
        let devices: BTreeSet<DeviceKey> = self.book.vector().iter().map(|(log, _)| log.device).collect();
        let mut jobs = BTreeSet::new();
        for device in devices {
            for (log, seq) in self.entries_between(&device, from_us, to_us)? {
                let facts = indexed.entry(&log, seq)?;
                jobs.extend(
                    facts
                        .iter()
                        .filter_map(|w| w.owned("job"))
                        .map(|job| Subject::job(&job)),
                );
            }
        }
        jobs.retain(|job| !indexed.about(job).is_empty());
        Ok(jobs)
    }

    /// The work standard in force: the depot's. The built-in one if the depot has published none, or one that this version cannot
    /// read; [`Standard::version`] tells which it is.
    pub fn standard(&self) -> Standard {
        standard_of(self.book.roster())
    }

    /// The clocks of all devices relative to the depot's, from all clock readings that count and from what the logs tell.
    pub fn clocks(&self) -> Clocks {
        let (roster, counts) = (self.book.roster(), |log: &LogId, seq| {
            self.book.counts(log, seq).is_ok()
        });
        let logs = self.log_times(roster, &self.book.vector(), &counts);
        clocks_of(roster, &self.standard(), &counts, logs)
    }

    /// The entries that are held and count: of a retired device only up to its last one that counts.
    pub fn counting_vector(&self) -> VersionVector {
        self.book.counting()
    }
}

/// The trailers of these jobs, and all jobs on those trailers.
fn on_the_trailers_of(jobs: &BTreeSet<Subject>, facts: &dyn Facts) -> (BTreeSet<Subject>, BTreeSet<Subject>) {
    let named = jobs.iter().flat_map(|job| facts.about(job));
    let trailers: BTreeSet<Subject> = named
        .filter_map(|w| w.owned("trailer"))
        .map(|trailer| Subject::trailer(&trailer))
        .collect();
    let others = trailers.iter().flat_map(|trailer| facts.about(trailer));
    let others = others.filter_map(|w| w.owned("job")).map(|job| Subject::job(&job));
    (jobs.iter().cloned().chain(others).collect(), trailers)
}

/// All facts, and only some of the jobs to go through.
struct SomeJobs<'f> {
    facts: &'f dyn Facts,
    jobs: Vec<Subject>,
}

impl Facts for SomeJobs<'_> {
    fn about(&self, subject: &Subject) -> Vec<Arc<RecordedFact>> {
        self.facts.about(subject)
    }

    fn is_filed(&self, subject: &Subject) -> bool {
        self.facts.is_filed(subject)
    }

    fn subjects(&self, class: Class) -> Vec<Subject> {
        match class {
            Class::Job => self.jobs.clone(),
            _ => self.facts.subjects(class),
        }
    }

    fn near(&self, class: Class, code: &str) -> Vec<String> {
        self.facts.near(class, code)
    }

    fn near_listed(&self, class: Class, code: &str) -> Vec<String> {
        self.facts.near_listed(class, code)
    }

    fn forks(&self) -> Vec<Fork> {
        self.facts.forks()
    }

    fn jobs_in(&self, log: &LogId, from_seq: u64) -> BTreeSet<String> {
        self.facts.jobs_in(log, from_seq)
    }

    fn first_sight(&self, log: &LogId, place: &Place) -> Option<Sight> {
        self.facts.first_sight(log, place)
    }
}

fn names_in(roster: &Roster) -> DeviceNames {
    let devices = roster.devices().into_iter();
    devices.map(|device| (device, roster.name(&device))).collect()
}

impl View {
    fn world(&self) -> World<'_> {
        World {
            facts: &self.facts,
            standard: &self.standard,
            clocks: &self.clocks,
        }
    }

    /// The merged facts.
    pub fn facts(&self) -> &dyn Facts {
        &self.facts
    }

    /// The work standard to judge by.
    pub fn standard(&self) -> &Standard {
        &self.standard
    }

    /// All findings.
    pub fn findings(&self) -> Vec<Finding> {
        judge_all(&self.world())
    }

    /// The shift report.
    pub fn report(&self, filter: &Filter) -> Report {
        Report::make(&self.world(), &self.names, &self.findings(), filter, &self.vector)
    }
}
