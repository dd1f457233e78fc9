//! What is shown: findings, histories, reports, over everything or over what a device could know.

use gladhand_facts::VersionVector;
use gladhand_logbook::roster::Roster;
use gladhand_reconcile::{
    ClockReading, Clocks, DeviceNames, Facts, Filter, Finding, MemoryFacts, Report, ToldFinding, World, judge_all,
};
use gladhand_trade::Standard;

use crate::error::NodeError;
use crate::governed::{clocks_of, readings_of, standard_of};
use crate::indexed_facts::IndexedFacts;
use crate::node::Node;
use crate::past::Past;

/// The merged facts with what judges them.
pub struct View {
    facts: MemoryFacts,
    names: DeviceNames,
    standard: Standard,
    clocks: Clocks,
    vector: VersionVector,
}

impl Node {
    /// Everything that counts here, ready to be judged.
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

    /// Findings in words, with the names that devices have here, or that they had at a moment.
    pub fn told(&self, findings: &[Finding], past: Option<&Past>) -> Vec<ToldFinding> {
        ToldFinding::all(findings, &IndexedFacts::at(self, past))
    }

    /// The shift report, from the index.
    ///
    /// # Errors
    /// When journal or index cannot be read.
    pub fn report(&mut self, filter: &Filter) -> Result<Report, NodeError> {
        let findings = self.findings()?;
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

    /// The work standard in force: the depot's, or the built-in one.
    pub fn standard(&self) -> Standard {
        standard_of(self.book.roster())
    }

    /// What the readings of all contacts say about the clocks, with the depot's as the measure.
    pub fn clocks(&self) -> Clocks {
        clocks_of(self.book.roster(), &self.standard(), &|log, seq| {
            self.book.counts(log, seq).is_ok()
        })
    }

    /// The clock readings that count.
    pub(crate) fn readings(&self) -> Vec<ClockReading> {
        readings_of(self.book.roster(), &|log, seq| self.book.counts(log, seq).is_ok())
    }

    /// What is held and counts: a retired device's log only up to its last entry that does.
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

    /// The work standard that judges.
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
