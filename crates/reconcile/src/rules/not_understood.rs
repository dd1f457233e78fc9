//! Facts of a kind that this version does not know.
//!
//! Standing: `-`. Nothing clashes.

use std::collections::BTreeSet;

use super::rule::Rule;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::subject::{Class, Subject};
use crate::words::{deeds, listed};
use crate::world::{Case, World};

pub(super) struct NotUnderstood;

impl Rule for NotUnderstood {
    fn name(&self) -> &'static str {
        "not-understood"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job, Class::Device]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let unknown: Vec<_> = case
            .facts
            .iter()
            .filter(|w| !w.fact.kind().is_known())
            .cloned()
            .collect();
        if unknown.is_empty() {
            return None;
        }
        let kinds: BTreeSet<String> = unknown.iter().map(|w| format!("'{}'", w.fact.kind())).collect();
        let (jobs, whose) = match &case.subject {
            Subject::Job(job) => (vec![job.clone()], format!("Job {job}")),
            Subject::Device(key) => (Vec::new(), format!("Device {}", world.facts.device_name(key))),
            other => (Vec::new(), other.to_string()),
        };
        let says = format!(
            "{whose} has facts of a kind that this version does not know: {}, recorded by {}.",
            listed(kinds),
            deeds(world, &unknown)
        );
        let next = "They are kept and passed on unchanged. Update this node, or correct the word if it was a slip.";
        Some(Draft::new(Severity::Note, jobs).by(unknown).open(says, next))
    }
}
