//! The findings, kept up to date fact by fact.
//!
//! Invariant (held by `tests/incremental.rs`): after any sequence of [`Ledger::absorb`] the ledger holds exactly
//! what [`crate::judge_all`] finds on the same facts. When the work standard or the clocks change, a [`Ledger::rebuild`] is due.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use gladhand_facts::DeviceKey;

use crate::finding::Finding;
use crate::judge::{candidates, judge_subject, sort};
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject};
use crate::touched::touched_by;
use crate::world::World;

/// The findings by subject.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Ledger {
    by_subject: BTreeMap<Subject, Vec<Finding>>,
    subject_of: BTreeMap<String, Subject>,
}

impl Ledger {
    /// Judges everything.
    pub fn rebuild(world: &World<'_>) -> Self {
        let mut ledger = Self::default();
        for subject in Class::ALL.into_iter().flat_map(|class| candidates(world, class)) {
            ledger.judge(world, &subject);
        }
        ledger
    }

    /// Judges again what `news` touches, and says what that was. The facts of `world` hold the news already.
    pub fn absorb(&mut self, world: &World<'_>, news: &[Arc<RecordedFact>]) -> BTreeSet<Subject> {
        let finding = |id: &str| self.subject_of.get(id).cloned();
        let subjects: BTreeSet<Subject> = touched_by(world, news, &finding);
        for subject in &subjects {
            self.judge(world, subject);
        }
        subjects
    }

    /// Judges a device again, for a fork that came to light in one of its logs.
    pub fn absorb_fork(&mut self, world: &World<'_>, device: DeviceKey) {
        self.judge(world, &Subject::Device(device));
    }

    /// All findings, in the order of the rules, then of the subjects.
    pub fn findings(&self) -> Vec<Finding> {
        let mut found: Vec<Finding> = self.by_subject.values().flatten().cloned().collect();
        sort(&mut found);
        found
    }

    /// The findings on `subject`.
    pub fn on(&self, subject: &Subject) -> &[Finding] {
        self.by_subject.get(subject).map_or(&[], Vec::as_slice)
    }

    /// The finding of that id.
    pub fn get(&self, id: &str) -> Option<&Finding> {
        let subject = self.subject_of.get(id)?;
        self.on(subject).iter().find(|f| f.id == id)
    }

    fn judge(&mut self, world: &World<'_>, subject: &Subject) {
        for old in self.by_subject.remove(subject).into_iter().flatten() {
            self.subject_of.remove(&old.id);
        }
        let found = judge_subject(world, subject);
        if found.is_empty() {
            return;
        }
        for finding in &found {
            self.subject_of.insert(finding.id.clone(), subject.clone());
        }
        self.by_subject.insert(subject.clone(), found);
    }
}
