//! One subject with its facts, read once for all rules.

use std::cell::{OnceCell, RefCell};
use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::Place;
use gladhand_trade::Answer;

use crate::clearance::clearance_at;
use crate::counting::{Withdrawal, withdrawals};
use crate::job::JobView;
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject};
use crate::trailer;
use crate::world::World;

/// One subject with its facts, read once for all rules.
pub struct Case {
    /// The subject.
    pub subject: Subject,
    /// The facts filed under it, in the order of places.
    pub facts: Vec<Arc<RecordedFact>>,
    job: Option<JobView>,
    siblings: OnceCell<Vec<JobView>>,
    withdrawn: Vec<Withdrawal>,
    answers: RefCell<BTreeMap<Place, Answer>>,
    usual_rights: OnceCell<Vec<Arc<RecordedFact>>>,
}

impl Case {
    /// Reads what the rules need to judge `subject`: the facts that count, and from `all` those that were taken back.
    pub fn load(world: &World<'_>, all: &World<'_>, subject: &Subject) -> Self {
        let job = match subject {
            Subject::Job(name) => Some(JobView::load(world.facts, name)),
            _ => None,
        };
        let facts = match (&job, subject) {
            (Some(job), _) => job.facts.clone(),
            (None, Subject::Code(code)) => about_code(world, code),
            (None, _) => world.facts.about(subject),
        };
        Self {
            subject: subject.clone(),
            facts,
            job,
            siblings: OnceCell::new(),
            withdrawn: withdrawals(all, &all.facts.about(subject)),
            answers: RefCell::default(),
            usual_rights: OnceCell::new(),
        }
    }

    /// The other jobs on the trailers of the job; none when the subject is no job.
    pub fn siblings(&self, world: &World<'_>) -> &[JobView] {
        let read = || self.job.as_ref().map(|job| trailer::siblings(world.facts, job));
        self.siblings.get_or_init(|| read().unwrap_or_default())
    }

    /// The go/no-go answer of the job that whoever recorded `cut` had in view.
    pub(crate) fn answer_at(&self, world: &World<'_>, cut: &Arc<RecordedFact>) -> Answer {
        if let Some(known) = self.answers.borrow().get(&cut.place) {
            return known.clone();
        }
        let answer = clearance_at(world, &self.facts, &self.withdrawn, cut);
        self.answers.borrow_mut().insert(cut.place, answer.clone());
        answer
    }

    /// What may have put any finding right, as `read` has it: many rules ask.
    pub(crate) fn usual_rights(&self, read: impl FnOnce() -> Vec<Arc<RecordedFact>>) -> &[Arc<RecordedFact>] {
        self.usual_rights.get_or_init(read)
    }

    /// What was taken back of the facts filed under the subject.
    pub fn withdrawn(&self) -> &[Withdrawal] {
        &self.withdrawn
    }

    /// The job, when the subject is one.
    pub fn job(&self) -> Option<&JobView> {
        self.job.as_ref()
    }
}

/// The classes whose names are codes.
pub(crate) const CODED: [Class; 3] = [Class::Camera, Class::Tracker, Class::Code];

/// A code's facts are filed under what it is the code of.
fn about_code(world: &World<'_>, code: &str) -> Vec<Arc<RecordedFact>> {
    let subjects = CODED.iter().filter_map(|class| Subject::from_text(*class, code));
    let mut facts: Vec<_> = subjects.flat_map(|s| world.facts.about(&s)).collect();
    facts.sort_by_key(|w| w.place);
    facts.dedup_by_key(|w| w.place);
    facts
}
