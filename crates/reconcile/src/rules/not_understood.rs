//! Facts of a kind that this version does not know.
//!
//! Standing: `-`. Nothing clashes.

use super::rule::Rule;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::reason::Reason;
use crate::reason::device::UnknownKinds;
use crate::reason::fact_ref::FactRef;
use crate::subject::Class;
use crate::world::World;

pub(super) struct NotUnderstood;

impl Rule for NotUnderstood {
    fn name(&self) -> &'static str {
        "not-understood"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job, Class::Device]
    }

    fn judge(&self, _world: &World<'_>, case: &Case) -> Option<Draft> {
        let unknown = case.facts.iter().filter(|w| !w.fact.kind().is_known());
        let unknown: Vec<_> = unknown.cloned().collect();
        if unknown.is_empty() {
            return None;
        }
        let reason = Reason::NotUnderstood(UnknownKinds {
            kinds: unknown.iter().map(|w| w.fact.kind().name().to_owned()).collect(),
            facts: FactRef::all(&unknown),
        });
        let job = case.job().map(|job| job.key.clone());
        Some(Draft::new(Severity::Note, job, reason).made_by(unknown))
    }
}
