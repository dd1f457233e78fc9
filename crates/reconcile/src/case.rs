//! One subject with its facts, read once for all rules.

use std::cell::{OnceCell, RefCell};
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;
use std::sync::Arc;

use gladhand_facts::{Kind, Place};
use gladhand_trade::Answer;

use crate::as_seen::as_seen;
use crate::checks::{Checks, RequiredCheck};
use crate::clearance::clearance_for;
use crate::counting::{Withdrawal, withdrawals};
use crate::job::JobView;
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject};
use crate::trailer;
use crate::world::World;

/// One subject with its facts, read once for all rules.
///
/// Whatever several rules share and is read from more than these facts is read before the first of them: what each rule reads is noted.
pub struct Case {
    /// The subject.
    pub subject: Subject,
    /// The facts filed under it, in the order of places.
    pub facts: Vec<Arc<RecordedFact>>,
    job: Option<JobView>,
    siblings: OnceCell<Vec<JobView>>,
    withdrawn: Vec<Withdrawal>,
    answers: Rc<Answers>,
    required: RefCell<BTreeMap<(Place, bool), Required>>,
    named_jobs: OnceCell<Vec<JobView>>,
    usual_rights: OnceCell<Vec<Arc<RecordedFact>>>,
}

/// The go/no-go answers that were worked out for one subject, now and in views: they are often the same.
#[derive(Default)]
pub(crate) struct Answers(RefCell<Vec<Answered>>);

/// An answer, and what it was worked out from.
struct Answered {
    cut: Place,
    seen: Vec<Arc<RecordedFact>>,
    answer: Answer,
}

type Required = Rc<Vec<RequiredCheck>>;

impl Case {
    /// Reads what the rules need to judge `subject`: the facts that count, and from `all` those that were taken back.
    pub(crate) fn load(world: &World<'_>, all: &World<'_>, subject: &Subject, answers: &Rc<Answers>) -> Self {
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
            answers: Rc::clone(answers),
            required: RefCell::default(),
            named_jobs: OnceCell::new(),
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
        self.answer_among(world, &self.facts, cut)
    }

    /// The same by some of the facts of the job.
    pub(crate) fn answer_among(
        &self,
        world: &World<'_>,
        facts: &[Arc<RecordedFact>],
        cut: &Arc<RecordedFact>,
    ) -> Answer {
        self.answers.at(world, cut, as_seen(facts, &self.withdrawn, cut))
    }

    /// The required checks as they stand by the facts that `is_before` the sign-off. `is_trusting` tells two ways of placing facts apart.
    pub(crate) fn required_checks(
        &self,
        world: &World<'_>,
        sign_off: &RecordedFact,
        is_trusting: bool,
        is_before: impl Fn(&RecordedFact) -> bool,
    ) -> Required {
        let key = (sign_off.place, is_trusting);
        if let Some(known) = self.required.borrow().get(&key) {
            return Rc::clone(known);
        }
        let job = self.job.iter();
        let required = job.flat_map(|job| Checks::before(world, job, sign_off, &is_before).all_required());
        let required = Rc::new(required.collect::<Vec<_>>());
        self.required.borrow_mut().insert(key, Rc::clone(&required));
        required
    }

    /// The jobs that name the subject, or named it once, by the keys of their names; none when it is no trailer.
    pub(crate) fn named_jobs(&self, world: &World<'_>) -> &[JobView] {
        self.named_jobs.get_or_init(|| {
            let is_trailer = self.subject.class() == Class::Trailer;
            let naming = self.facts.iter().filter(|w| is_trailer && w.is(&Kind::Job));
            let named: BTreeSet<String> = naming.filter_map(|w| w.key("job")).collect();
            named.iter().map(|job| JobView::load(world.facts, job)).collect()
        })
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

impl Answers {
    /// The answer that whoever recorded `cut` had in view, by the facts that it had `seen`.
    fn at(&self, world: &World<'_>, cut: &Arc<RecordedFact>, seen: Vec<Arc<RecordedFact>>) -> Answer {
        let is_it = |known: &&Answered| known.cut == cut.place && are_same(&known.seen, &seen);
        if let Some(known) = self.0.borrow().iter().find(is_it) {
            return known.answer.clone();
        }
        let answer = clearance_for(world, &seen, cut);
        self.0.borrow_mut().push(Answered {
            cut: cut.place,
            seen,
            answer: answer.clone(),
        });
        answer
    }
}

fn are_same(some: &[Arc<RecordedFact>], others: &[Arc<RecordedFact>]) -> bool {
    some.len() == others.len() && some.iter().zip(others).all(|(a, b)| Arc::ptr_eq(a, b))
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
