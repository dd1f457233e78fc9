//! A sign-off while checks that the work standard requires (for that purpose, wall and load) are absent before it.
//!
//! One finding lists them. A check that was recorded in a way that cannot be read counts as absent. So do wall and load where
//! the purpose has checks that depend on them: while one of them is not recorded nobody can say which are required. Purpose, wall,
//! load and thickness are read as the signer had them in view.
//!
//! Standing: `-`. What is absent clashes with nothing that was recorded.

use std::sync::Arc;

use super::rule::{About, Rule};
use super::signed::{self, Beside, Fault};
use crate::awareness::Awareness;
use crate::case::Case;
use crate::checks::{Outcome, missing_fields};
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::reason::Reason;
use crate::reason::sign_off::{MissingCheck, MissingChecks};
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::visits::Visits;
use crate::world::World;

/// The fields of a job that the required checks depend on.
const FIELDS: [&str; 2] = ["wall", "load"];

pub(super) struct CheckMissing;

impl Rule for CheckMissing {
    fn name(&self) -> &'static str {
        "check-missing"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn about(&self) -> About {
        About::Work
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        signed::judge(world, job, Reason::CheckMissing, |sign_off, beside| {
            fault(world, case, job, sign_off, beside)
        })
    }
}

fn fault(
    world: &World<'_>,
    case: &Case,
    job: &JobView,
    sign_off: &RecordedFact,
    beside: Beside<'_>,
) -> Option<Fault<MissingChecks>> {
    let states = beside.required_checks(world, case);
    let mut evidence: Vec<Arc<RecordedFact>> = Vec::new();
    let mut checks = Vec::new();
    for state in states.iter() {
        if let Outcome::Missing(why) = &state.outcome {
            let (check, why) = (state.name.clone(), why.clone());
            checks.push(MissingCheck { check, why });
            evidence.extend(state.facts.iter().cloned());
        }
    }
    let fields = missing_fields(world, &Visits::at(job, sign_off), &FIELDS);
    let is_missing = !fields.is_empty() || !checks.is_empty();
    is_missing.then_some(Fault {
        severity: Severity::Ask,
        awareness: Awareness::NoClash,
        evidence,
        what: MissingChecks { fields, checks },
    })
}
