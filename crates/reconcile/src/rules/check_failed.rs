//! A sign-off while the latest value of a required check is out of tolerance or not ok.
//!
//! Of several latest values that do not know of each other any failing one counts. A check that the work standard
//! leaves to the office when it is out of tolerance is a question (`ask`), not a stop, as long as that is all.
//!
//! Standing: the sign-off and the failing checks clash. `aware` when the signer had one of them in view, `unaware` when they only
//! happened earlier by the clocks.

use std::sync::Arc;

use gladhand_trade::Requirement;

use super::rule::Rule;
use super::signed::{self, Trouble, signed_off};
use crate::awareness::Awareness;
use crate::checks::{Checks, Outcome, required};
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::words::{deed, listed};
use crate::world::{Case, World};

pub(super) struct CheckFailed;

impl Rule for CheckFailed {
    fn name(&self) -> &'static str {
        "check-failed"
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
    let mut evidence = Vec::new();
    let mut reasons = Vec::new();
    let mut severity = Severity::Ask;
    for state in required(world, job).into_iter().map(|r| checks.state(r)) {
        let Outcome::Failed(failed) = state.outcome else {
            continue;
        };
        severity = severity.max(severity_of(state.requirement, &failed));
        let told = failed
            .iter()
            .map(|(fact, why)| format!("{why} ({})", deed(world, fact)));
        reasons.extend(told);
        evidence.extend(failed.into_iter().map(|(fact, _)| fact));
    }
    (!reasons.is_empty()).then(|| Trouble {
        severity,
        awareness: Awareness::between(std::slice::from_ref(sign_off), &evidence),
        evidence,
        says: format!(
            "{} with a failed check: {}",
            signed_off(world, job, sign_off),
            listed(reasons)
        ),
        next: next(severity).to_owned(),
    })
}

/// Out of tolerance where the standard says "ask the office": a question. Recorded as not ok: a stop all the same.
fn severity_of(requirement: &Requirement, failed: &[(Arc<RecordedFact>, String)]) -> Severity {
    let refused = failed.iter().any(|(fact, _)| fact.fact.flag("ok") == Some(false));
    if requirement.asks_when_outside() && !refused {
        Severity::Ask
    } else {
        Severity::Stop
    }
}

fn next(severity: Severity) -> &'static str {
    match severity {
        Severity::Stop => "Put it right on the trailer, record the check again, then sign off again.",
        _ => "Ask the office; record its approval, or put it right and record the check again, then sign off again.",
    }
}
