//! What a rule makes of a subject. [`Draft::finish`] names it, weighs the rulings on it and gives the [`Finding`].

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::{FactId, Kind, Place};

use crate::finding::{Finding, Ruling, Severity, Standing, Status, finding_id};
use crate::reason::Reason;
use crate::recorded_fact::{RecordedFact, latest};
use crate::subject::{Class, Subject};
use crate::world::World;

/// A finding without its name and without the rulings on it.
#[derive(Debug, Clone)]
pub struct Draft {
    severity: Severity,
    jobs: BTreeSet<String>,
    evidence: Vec<Arc<RecordedFact>>,
    evidence_places: Vec<Place>,
    standing: Standing,
    is_cleared: bool,
    reason: Reason,
}

impl Draft {
    /// An open finding that touches `jobs`. No fact makes it yet, and nothing clashes.
    pub fn new(severity: Severity, jobs: impl IntoIterator<Item = String>, reason: Reason) -> Self {
        Self {
            severity,
            jobs: jobs.into_iter().collect(),
            evidence: Vec::new(),
            evidence_places: Vec::new(),
            standing: Standing::None,
            is_cleared: false,
            reason,
        }
    }

    /// Adds facts that make it, in any order.
    pub fn made_by(mut self, evidence: impl IntoIterator<Item = Arc<RecordedFact>>) -> Self {
        self.evidence.extend(evidence);
        self
    }

    /// Adds places that hold no fact and that a ruling must have seen all the same.
    pub fn shown_at(mut self, places: impl IntoIterator<Item = Place>) -> Self {
        self.evidence_places.extend(places);
        self
    }

    /// Sets the standing.
    pub fn standing(self, standing: Standing) -> Self {
        Self { standing, ..self }
    }

    /// Says whether later facts removed the cause.
    pub fn cleared(self, is_cleared: bool) -> Self {
        Self { is_cleared, ..self }
    }

    /// Names the draft and weighs the rulings on it.
    pub fn finish(self, world: &World<'_>, rule: &str, subject: &Subject) -> Finding {
        let id = finding_id(rule, subject);
        let ruling = self.settling_ruling(world, &id);
        let status = match (self.is_cleared, &ruling) {
            (true, _) => Status::Cleared,
            (false, Some(_)) => Status::Settled,
            (false, None) => Status::Open,
        };
        let facts: BTreeSet<FactId> = self.evidence.iter().map(|w| w.fact.id()).collect();
        Finding {
            id,
            rule: rule.to_owned(),
            severity: self.severity,
            subject: subject.clone(),
            jobs: self.jobs.into_iter().collect(),
            facts: facts.into_iter().collect(),
            standing: self.standing,
            status,
            reason: self.reason,
            ruling: ruling.filter(|_| status == Status::Settled),
        }
    }

    /// The last of the rulings that had seen every fact of the finding.
    fn settling_ruling(&self, world: &World<'_>, id: &str) -> Option<Ruling> {
        let subject = Subject::from_text(Class::Finding, id)?;
        let mut rulings = world.facts.about(&subject);
        rulings.retain(|r| r.is(&Kind::Ruling) && self.seen_whole_by(r));
        let last = latest(&rulings).into_iter().max_by_key(|r| (r.stamp, r.place))?;
        Some(Ruling {
            ruling: last.owned("ruling")?,
            by: last.owned("by"),
            why: last.owned("why"),
        })
    }

    /// A finding that nothing shows cannot be settled: any ruling would have seen all of nothing.
    fn seen_whole_by(&self, ruling: &RecordedFact) -> bool {
        let is_shown = !self.evidence.is_empty() || !self.evidence_places.is_empty();
        is_shown
            && self.evidence.iter().all(|w| w.happens_before(ruling))
            && self.evidence_places.iter().all(|place| ruling.has_seen(place))
    }
}
