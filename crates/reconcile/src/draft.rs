//! What a rule makes of a subject. [`Draft::finish`] names it, weighs the rulings on it and gives the [`Finding`].

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::{FactId, Kind, Place, name_key};

use crate::finding::{Finding, HowPutRight, PutRight, Ruling, Severity, Standing, Status, finding_id, id_of};
use crate::job::trailers_of;
use crate::names::spellings;
use crate::reason::Reason;
use crate::reason::fact_ref::{FactLabel, FactRef};
use crate::recorded_fact::{RecordedFact, latest};
use crate::subject::Subject;
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
    resolved_by: Vec<Arc<RecordedFact>>,
    put_right: Option<PutRight>,
    reason: Reason,
}

impl Draft {
    /// An open finding that touches `jobs`. No fact makes it yet, and nothing clashes.
    pub fn new(severity: Severity, jobs: impl IntoIterator<Item = String>, reason: Reason) -> Self {
        Self {
            severity,
            jobs: jobs.into_iter().map(|job| name_key(&job)).collect(),
            evidence: Vec::new(),
            evidence_places: Vec::new(),
            standing: Standing::None,
            is_cleared: false,
            resolved_by: Vec::new(),
            put_right: None,
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

    /// Gives the facts that removed the cause; without any the finding is open. They are no part of what makes it.
    pub fn cleared_by(self, resolved_by: impl IntoIterator<Item = Arc<RecordedFact>>) -> Self {
        let resolved_by: Vec<_> = resolved_by.into_iter().collect();
        Self {
            is_cleared: !resolved_by.is_empty(),
            resolved_by,
            ..self
        }
    }

    /// Says that a fact put it right of which the reason does not speak.
    pub(crate) fn put_right_by(self, fact: &RecordedFact, how: HowPutRight) -> Self {
        let put_right = PutRight {
            how,
            what: FactLabel::of(fact),
            fact: FactRef::of(fact),
        };
        Self {
            is_cleared: true,
            put_right: Some(put_right),
            ..self
        }
    }

    /// Whether later facts removed the cause.
    pub(crate) fn is_cleared(&self) -> bool {
        self.is_cleared
    }

    /// The facts that removed the cause, as far as the rule names them.
    pub(crate) fn resolved_by(&self) -> &[Arc<RecordedFact>] {
        &self.resolved_by
    }

    /// Whether the recorder of `fact` had all of it in view.
    pub(crate) fn is_seen_by(&self, fact: &RecordedFact) -> bool {
        self.seen_whole_by(fact)
    }

    /// Names the draft and weighs the rulings on it.
    pub fn finish(self, world: &World<'_>, rule: &str, subject: &Subject) -> Finding {
        let id = finding_id(rule, subject);
        let ruling = self.settling_ruling(world, rule, subject, &id);
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
            facts: facts.into_iter().collect(),
            trailers: trailers(world, subject, &self.jobs),
            jobs: self.jobs.into_iter().collect(),
            standing: self.standing,
            status,
            reason: self.reason,
            put_right: self.put_right,
            ruling: ruling.filter(|_| status == Status::Settled),
        }
    }

    /// The last of the rulings that had seen every fact of the finding, also of those that name it by an id of before.
    fn settling_ruling(&self, world: &World<'_>, rule: &str, subject: &Subject, id: &str) -> Option<Ruling> {
        let before = spellings(world.facts, subject)
            .into_iter()
            .map(|text| id_of(rule, subject, &text));
        let ids: BTreeSet<String> = before.chain([id.to_owned()]).collect();
        let rulings = ids.into_iter().flat_map(|id| world.facts.about(&Subject::Finding(id)));
        let mut rulings: Vec<Arc<RecordedFact>> = rulings.collect();
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

/// The trailers that it touches: the subject, if it is one, and those of its jobs.
fn trailers(world: &World<'_>, subject: &Subject, jobs: &BTreeSet<String>) -> Vec<String> {
    let mut found: BTreeSet<String> = jobs.iter().flat_map(|job| trailers_of(world.facts, job)).collect();
    if let Subject::Trailer(trailer) = subject {
        found.insert(trailer.clone());
    }
    found.into_iter().collect()
}
