//! What a command judges with: the merged facts, the work standard and the clocks, and "what if" a fact were there.
//!
//! Facts come through the index as they are asked for. A supposed fact lives only in the answer: it is never
//! recorded, and stands where this device's next entry would.

use std::sync::Arc;

use gladhand_facts::{Fact, LogId, Moment, Place};
use gladhand_reconcile::checks::proof_answers;
use gladhand_reconcile::counting::Counting;
use gladhand_reconcile::facts::{Fork, Sight};
use gladhand_reconcile::trailer::siblings;
use gladhand_reconcile::visits::Visits;
use gladhand_reconcile::{
    Class, Clocks, Facts, Finding, JobView, Names, RecordedFact, Subject, World, judge_subject, mentions,
};
use gladhand_trade::Standard;
use serde_json::{Map, Value};

use gladhand_node::{IndexedFacts, Node, NodeError, environment};

/// The merged facts with what judges them.
pub struct JudgingContext<'n> {
    node: &'n Node,
    indexed: IndexedFacts<'n>,
    standard: Standard,
    clocks: Clocks,
}

impl<'n> JudgingContext<'n> {
    /// Over all that is known here.
    pub fn new(node: &'n Node) -> Self {
        Self {
            node,
            indexed: IndexedFacts::new(node),
            standard: node.standard(),
            clocks: node.clocks(),
        }
    }

    /// The node.
    pub fn node(&self) -> &'n Node {
        self.node
    }

    /// The work standard that judges.
    pub fn standard(&self) -> &Standard {
        &self.standard
    }

    /// The merged facts.
    pub fn facts(&self) -> &dyn Facts {
        &self.indexed
    }

    /// What the devices are called.
    pub fn names(&self) -> &dyn Names {
        &self.indexed
    }

    /// All that a judgement depends on.
    pub fn world(&self) -> World<'_> {
        self.world_of(self.facts())
    }

    fn world_of<'a>(&'a self, facts: &'a dyn Facts) -> World<'a> {
        World {
            facts,
            standard: &self.standard,
            clocks: &self.clocks,
        }
    }

    /// The jobs that nobody has signed off or stood down.
    pub fn open_jobs(&self) -> Vec<String> {
        self.indexed.open_jobs()
    }

    /// A job.
    pub fn job(&self, name: &str) -> JobView {
        let world = self.world();
        JobView::load(&Counting::new(&world), name)
    }

    /// The other jobs on the trailers of a job.
    pub fn siblings(&self, job: &JobView) -> Vec<JobView> {
        let world = self.world();
        siblings(&Counting::new(&world), job)
    }

    /// The answers that a proof picture of `job` must have, all of them yes; none where its purpose wants no picture.
    pub fn proof_answers(&self, job: &JobView) -> Vec<String> {
        let answers = proof_answers(&self.world(), &Visits::now(job));
        answers.into_iter().map(str::to_owned).collect()
    }

    /// Whether everything that was asked for could be read. Ask before what came of it is shown.
    ///
    /// # Errors
    /// The first thing that went wrong.
    pub fn check(&self) -> Result<(), NodeError> {
        self.indexed.failure()
    }

    /// What the rules would say of `job` if it were signed off now.
    pub fn if_signed_off(&self, job: &str) -> Vec<Finding> {
        let Some(sign_off) = self.supposed_sign_off(job) else {
            return Vec::new();
        };
        let supposed = Supposed {
            facts: self.facts(),
            subject: Subject::job(job),
            extra: Arc::new(sign_off),
        };
        judge_subject(&self.world_of(&supposed), &supposed.subject)
    }

    fn supposed_sign_off(&self, job: &str) -> Option<RecordedFact> {
        let now_us = environment::now_us();
        let device = self.node.device();
        let words = [
            ("kind", "sign-off"),
            ("job", job),
            ("at", Moment::from_unix_us(now_us, 0).text()),
        ]
        .map(|(key, value)| (key.to_owned(), Value::from(value)));
        let unwritten = (LogId { device, incarnation: 0 }, 0);
        let (log, seq) = self.node.book().next_place().unwrap_or(unwritten);
        Some(RecordedFact {
            fact: Fact::from_map(&device, Map::from_iter(words)).ok()?,
            place: Place { log, seq, index: 0 },
            stamp: self.node.book().stamp(now_us),
            seen: Arc::new(self.node.counting_vector()),
        })
    }
}

/// A fact that was just recorded, with what its recorder had seen.
pub fn recorded(facts: &dyn Facts, fact: &Fact, place: &Place) -> Option<Arc<RecordedFact>> {
    let subject = mentions(fact, &place.log.device).into_iter().next()?;
    facts.about(&subject).into_iter().find(|w| w.place == *place)
}

/// Facts with one more that nobody recorded.
struct Supposed<'a> {
    facts: &'a dyn Facts,
    subject: Subject,
    extra: Arc<RecordedFact>,
}

impl Facts for Supposed<'_> {
    fn about(&self, subject: &Subject) -> Vec<Arc<RecordedFact>> {
        let mut found = self.facts.about(subject);
        if *subject == self.subject {
            found.push(Arc::clone(&self.extra));
            found.sort_by_key(|w| w.place);
        }
        found
    }

    fn subjects(&self, class: Class) -> Vec<Subject> {
        self.facts.subjects(class)
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

    fn first_sight(&self, log: &LogId, place: &Place) -> Option<Sight> {
        self.facts.first_sight(log, place)
    }
}
