//! A sign-off while checks that the work standard requires (for that wall and load) are absent before it.
//!
//! One finding lists them. A check that was recorded in a way that cannot be read counts as absent. So do wall and load: while
//! one of them is not recorded nobody can say which checks are required.
//!
//! Standing: `-`. What is absent clashes with nothing that was recorded.

use std::sync::Arc;

use super::rule::Rule;
use super::signed::{self, Trouble, signed_off};
use crate::awareness::Awareness;
use crate::checks::{CheckState, Checks, Outcome, required};
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::world::{Case, World};

pub(super) struct CheckMissing;

impl Rule for CheckMissing {
    fn name(&self) -> &'static str {
        "check-missing"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        signed::judge(world, job, |sign_off| trouble(world, job, sign_off))
    }
}

fn trouble(world: &World<'_>, job: &JobView, sign_off: &Arc<RecordedFact>) -> Option<Trouble> {
    let checks = Checks::before(world, job, sign_off);
    let missing: Vec<CheckState<'_>> = required(world, job)
        .into_iter()
        .map(|r| checks.state(r))
        .filter(|s| matches!(s.outcome, Outcome::Missing(_)))
        .collect();
    let unknown = ["wall", "load"]
        .into_iter()
        .filter(|field| job.values(field).is_empty());
    let unknown = unknown.map(|field| format!("{field} (not recorded)"));
    let named: Vec<String> = unknown.chain(missing.iter().map(named)).collect();
    let (count, list) = (named.len(), named.join(", "));
    let checks = if count == 1 { "check" } else { "checks" };
    (count > 0).then(|| Trouble {
        severity: Severity::Ask,
        awareness: Awareness::Nothing,
        evidence: missing.into_iter().flat_map(|s| s.facts).collect(),
        says: format!(
            "{} without {count} required {checks}: {list}",
            signed_off(world, job, sign_off)
        ),
        next: format!("Do or confirm what is missing on the trailer, record it, then sign off again: {list}."),
    })
}

/// The name of the check, with the reason when something was recorded that cannot be read.
fn named(state: &CheckState<'_>) -> String {
    let name = state.requirement.name();
    match &state.outcome {
        Outcome::Missing(Some(why)) => format!("{name} (recorded, but {why})"),
        _ => name.to_owned(),
    }
}
