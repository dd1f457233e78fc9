//! What the rules read: the facts with what they are judged by, and one subject with its facts.

use std::sync::Arc;

use gladhand_trade::Standard;

use crate::clocks::Clocks;
use crate::facts::Facts;
use crate::job::JobView;
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject};

/// All that a judgement depends on. Names of devices are no part of it.
#[derive(Clone, Copy)]
pub struct World<'a> {
    /// The merged facts.
    pub facts: &'a dyn Facts,
    /// What the work must be like.
    pub standard: &'a Standard,
    /// What is known about the clocks.
    pub clocks: &'a Clocks,
}

/// One subject with its facts, read once for all rules.
pub struct Case {
    /// The subject.
    pub subject: Subject,
    /// The facts filed under it, in the order of places.
    pub facts: Vec<Arc<RecordedFact>>,
    job: Option<JobView>,
}

impl Case {
    /// Reads what the rules need to judge `subject`.
    pub fn load(world: &World<'_>, subject: &Subject) -> Self {
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
        }
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
