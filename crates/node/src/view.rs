//! What is shown: findings, histories, reports, over everything or over what a device could know.

use std::sync::{Mutex, PoisonError};

use gladhand_facts::{LogId, Place, VersionVector};
use gladhand_logbook::roster::Roster;
use gladhand_reconcile::{
    ClockReading, Clocks, DeviceNames, Facts, Filter, Finding, MemoryFacts, Report, ToldFinding, World, judge_all,
};
use gladhand_trade::Standard;
use gladhand_trade::standard::BUILT_IN;

use crate::error::NodeError;
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

/// The standards that were read last. Reading one takes longer than most of what it is read for.
static READ: Mutex<Vec<(String, Standard)>> = Mutex::new(Vec::new());
/// More are not in use at once: the one in force, and those of some moments in the past.
const KEPT: usize = 4;

/// The work standard that a roster puts in force.
pub(crate) fn standard_of(roster: &Roster) -> Standard {
    let text = roster.standard().map_or(BUILT_IN, |(_, text)| text);
    let mut read = READ.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some((_, standard)) = read.iter().find(|(known, _)| known == text) {
        return standard.clone();
    }
    let standard = Standard::parse(text).unwrap_or_else(|_| Standard::built_in());
    if read.len() >= KEPT {
        read.remove(0);
    }
    read.push((text.to_owned(), standard.clone()));
    standard
}

fn names_in(roster: &Roster) -> DeviceNames {
    let devices = roster.devices().into_iter();
    devices.map(|device| (device, roster.name(&device))).collect()
}

/// The clocks by those readings of a roster that count.
pub(crate) fn clocks_of(roster: &Roster, standard: &Standard, counts: &dyn Fn(&LogId, u64) -> bool) -> Clocks {
    match roster.root() {
        Some(depot) => Clocks::measured(depot, standard.clock(), readings_of(roster, counts)),
        None => Clocks::unmeasured(),
    }
}

fn readings_of(roster: &Roster, counts: &dyn Fn(&LogId, u64) -> bool) -> Vec<ClockReading> {
    let read = roster.clock_readings();
    read.filter(|(log, seq, _)| counts(log, *seq))
        .map(|(log, seq, r)| ClockReading {
            device: log.device,
            peer: r.peer,
            at_us: r.at_us,
            offset_us: r.offset_us,
            delay_us: r.delay_us,
            place: Place { log, seq, index: 0 },
        })
        .collect()
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
