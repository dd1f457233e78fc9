//! Facts of a kind that this version does not know.

use std::collections::BTreeSet;

use super::Rule;
use crate::finding::{Draft, Severity, Standing};
use crate::judge::{Case, World};
use crate::subject::{Class, Subject};
use crate::words::{deeds, listed};

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
            Subject::Job(job) => (BTreeSet::from([job.clone()]), format!("Job {job}")),
            Subject::Device(key) => (BTreeSet::new(), format!("Device {}", world.facts.device_name(key))),
            other => (BTreeSet::new(), other.to_string()),
        };
        Some(Draft {
            severity: Severity::Note,
            jobs,
            says: format!(
                "{whose} has facts of a kind that this version does not know: {}, recorded by {}.",
                listed(kinds),
                deeds(world, &unknown)
            ),
            evidence: unknown,
            beyond: Vec::new(),
            standing: Standing::None,
            cleared: false,
            next: "They are kept and passed on unchanged. Update this node, or correct the word if it was a slip."
                .to_owned(),
        })
    }
}
