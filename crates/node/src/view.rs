//! Views of the current state: reports, the work standard in force, clocks, and all facts in memory ready to be judged.
//!
//! Deliberately absent: the past ([`crate::past`]), and words for people.

use gladhand_facts::{LogId, VersionVector};
use gladhand_logbook::roster::Roster;
use gladhand_reconcile::{
    Clocks, DeviceNames, Facts, Filter, Finding, MemoryFacts, Report, ToldFinding, World, judge_all,
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
        let findings = self.kept_findings()?;
        let (standard, clocks, indexed) = (self.standard(), self.clocks(), IndexedFacts::new(self));
        let world = World {
            facts: &indexed,
            standard: &standard,
            clocks: &clocks,
        };
        let report = Report::make(&world, &indexed, &findings, filter, &self.counting_vector());
        indexed.failure()?;
        Ok(report)
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
