//! What is shown: findings, histories, reports, over everything or over what a device could know.

use gladhand_facts::{Place, VersionVector};
use gladhand_reconcile::{Clocks, Facts, Filter, Finding, MemoryFacts, Reading, Report, World, judge_all};
use gladhand_trade::Standard;

use super::{Node, NodeError, Shelf};

/// The merged facts with what judges them.
pub struct View {
    facts: MemoryFacts,
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
            standard: self.standard(),
            clocks: self.clocks(),
            vector: self.counting_vector(),
        })
    }

    /// The shift report, from the index.
    ///
    /// # Errors
    /// When journal or index cannot be read.
    pub fn report(&mut self, filter: &Filter) -> Result<Report, NodeError> {
        let findings = self.findings()?;
        let (standard, clocks, shelf) = (self.standard(), self.clocks(), Shelf::new(self));
        let world = World {
            facts: &shelf,
            standard: &standard,
            clocks: &clocks,
        };
        let report = Report::make(&world, &findings, filter, &self.counting_vector());
        shelf.failure()?;
        Ok(report)
    }

    /// The work standard in force: the depot's, or the built-in one.
    pub fn standard(&self) -> Standard {
        let published = self
            .book
            .roster()
            .standard()
            .and_then(|(_, text)| Standard::parse(text).ok());
        published.unwrap_or_else(Standard::built_in)
    }

    /// What the readings of all contacts say about the clocks, with the depot's as the measure.
    pub fn clocks(&self) -> Clocks {
        match self.book.roster().root() {
            Some(depot) => Clocks::measured(depot, self.standard().clock(), self.readings()),
            None => Clocks::unmeasured(),
        }
    }

    /// The clock readings that count.
    pub(super) fn readings(&self) -> impl Iterator<Item = Reading> + '_ {
        let read = self.book.roster().clock_readings();
        read.filter(|(log, seq, _)| self.book.counts(log, *seq).is_ok())
            .map(|(log, seq, r)| Reading {
                device: log.device,
                peer: r.peer,
                at_us: r.at_us,
                offset_us: r.offset_us,
                delay_us: r.delay_us,
                place: Place { log, seq, index: 0 },
            })
    }

    /// What is held and counts: a retired device's log only up to its last entry that does.
    pub fn counting_vector(&self) -> VersionVector {
        self.book.counting()
    }
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
        Report::make(&self.world(), &self.findings(), filter, &self.vector)
    }
}
