//! Judging: all rules over one subject, or over all.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_trade::Standard;

use crate::facts::Facts;
use crate::finding::Finding;
use crate::job::JobView;
use crate::recorded_fact::RecordedFact;
use crate::rules::{self, Rule};
use crate::subject::{Class, Subject};
use crate::time::Clocks;

/// All that a judgement depends on.
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

/// A code's facts are filed under what it is the code of.
fn about_code(world: &World<'_>, code: &str) -> Vec<Arc<RecordedFact>> {
    let subjects = CODED.iter().filter_map(|class| Subject::from_text(*class, code));
    let mut facts: Vec<_> = subjects.flat_map(|s| world.facts.about(&s)).collect();
    facts.sort_by_key(|w| w.place);
    facts.dedup_by_key(|w| w.place);
    facts
}

/// The classes whose names are codes.
const CODED: [Class; 3] = [Class::Camera, Class::Tracker, Class::Code];

/// What the rules find on `subject`, in the order of the rules.
pub fn judge_subject(world: &World<'_>, subject: &Subject) -> Vec<Finding> {
    let rules: Vec<&dyn Rule> = rules::on(subject.class()).collect();
    if rules.is_empty() {
        return Vec::new();
    }
    let case = Case::load(world, subject);
    let found = rules.into_iter().filter_map(|rule| {
        let draft = rule.judge(world, &case)?;
        Some(draft.finish(world, rule.name(), subject))
    });
    found.collect()
}

/// What the rules find on every subject, in the order of the rules, then of the subjects.
pub fn judge_all(world: &World<'_>) -> Vec<Finding> {
    let subjects = Class::ALL.into_iter().flat_map(|class| candidates(world, class));
    let mut found: Vec<Finding> = subjects.flat_map(|s| judge_subject(world, &s)).collect();
    sort(&mut found);
    found
}

/// The subjects of `class` that may have findings.
pub fn candidates(world: &World<'_>, class: Class) -> BTreeSet<Subject> {
    let mut found: BTreeSet<Subject> = world.facts.subjects(class).into_iter().collect();
    if class == Class::Code {
        let coded = CODED.into_iter().flat_map(|class| world.facts.subjects(class));
        found.extend(coded.map(|s| Subject::Code(s.text().into_owned())));
    }
    if class == Class::Device {
        let forked = world.facts.forks().into_iter();
        found.extend(forked.map(|f| Subject::Device(f.log.device)));
        let read = world.clocks.readings().iter().flat_map(|r| [r.device, r.peer]);
        found.extend(read.map(Subject::Device));
    }
    found
}

/// Puts findings into the order of the rules, then of the subjects.
pub fn sort(findings: &mut [Finding]) {
    findings.sort_by(|a, b| {
        let rank = |f: &Finding| rules::rank(&f.rule);
        (rank(a), &a.subject, &a.id).cmp(&(rank(b), &b.subject, &b.id))
    });
}
