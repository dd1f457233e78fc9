//! What a rule makes, before it is named and the rulings are weighed.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::{FactId, Kind, Place};

use crate::finding::{Finding, Ruling, Severity, Standing, Status, finding_id};
use crate::recorded_fact::{RecordedFact, latest};
use crate::subject::{Class, Subject};
use crate::words::with_offsets;
use crate::world::World;

/// What a rule has to say about a subject.
#[derive(Debug, Clone)]
pub struct Draft {
    /// How much it matters.
    pub severity: Severity,
    /// The jobs that it touches.
    pub jobs: BTreeSet<String>,
    /// The facts that make it, in any order.
    pub evidence: Vec<Arc<RecordedFact>>,
    /// Places beside the facts that a ruling must have seen too.
    pub beyond: Vec<Place>,
    /// Whether the recorders could have known.
    pub standing: Standing,
    /// Whether later facts removed the cause.
    pub cleared: bool,
    /// One plain sentence.
    pub says: String,
    /// What to do.
    pub next: String,
}

impl Draft {
    /// An open finding that touches `jobs`; the rest is said by the calls that follow.
    pub fn new(severity: Severity, jobs: impl IntoIterator<Item = String>) -> Self {
        Self {
            severity,
            jobs: jobs.into_iter().collect(),
            evidence: Vec::new(),
            beyond: Vec::new(),
            standing: Standing::None,
            cleared: false,
            says: String::new(),
            next: String::new(),
        }
    }

    /// With these facts among those that make it.
    pub fn by(mut self, evidence: impl IntoIterator<Item = Arc<RecordedFact>>) -> Self {
        self.evidence.extend(evidence);
        self
    }

    /// With this standing.
    pub fn standing(self, standing: Standing) -> Self {
        Self { standing, ..self }
    }

    /// Open: what it says, and what to do.
    pub fn open(self, says: String, next: impl Into<String>) -> Self {
        let next = next.into();
        Self { says, next, ..self }
    }

    /// Cleared: what it says. Nobody has to do anything.
    pub fn cleared(self, says: String) -> Self {
        Self {
            says,
            next: "Nothing more to do.".to_owned(),
            cleared: true,
            ..self
        }
    }

    /// Names the draft and weighs the rulings on it.
    pub fn finish(self, world: &World<'_>, rule: &str, subject: &Subject) -> Finding {
        let id = finding_id(rule, subject);
        let ruling = self.settling_ruling(world, &id);
        let status = match (self.cleared, &ruling) {
            (true, _) => Status::Cleared,
            (false, Some(_)) => Status::Settled,
            (false, None) => Status::Open,
        };
        let facts: BTreeSet<FactId> = self.evidence.iter().map(|w| w.fact.id()).collect();
        Finding {
            id,
            rule: rule.to_owned(),
            severity: self.severity,
            subject: subject.text().into_owned(),
            jobs: self.jobs.into_iter().collect(),
            facts: facts.into_iter().collect(),
            standing: self.standing,
            status,
            says: with_offsets(&self.says),
            next: self.next,
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

    fn seen_whole_by(&self, ruling: &RecordedFact) -> bool {
        let makes_something = !self.evidence.is_empty() || !self.beyond.is_empty();
        makes_something
            && self.evidence.iter().all(|w| w.happens_before(ruling))
            && self.beyond.iter().all(|place| ruling.has_seen(place))
    }
}
