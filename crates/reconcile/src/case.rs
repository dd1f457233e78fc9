//! One subject with its facts, read once for all rules.

use std::cell::OnceCell;
use std::sync::Arc;

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
        }
    }

    /// The other jobs on the trailers of the job; none when the subject is no job.
    pub fn siblings(&self, world: &World<'_>) -> &[JobView] {
        let read = || self.job.as_ref().map(|job| trailer::siblings(world.facts, job));
        self.siblings.get_or_init(|| read().unwrap_or_default())
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
