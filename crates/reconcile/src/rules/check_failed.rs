//! A sign-off while the latest value of a required check is out of tolerance or not ok.
//!
//! Of several latest values that do not know of each other any failing one counts. A check that the work standard
//! leaves to the office when it is out of tolerance is a question (`ask`), not a stop, as long as that is all; an approval of the
//! place by another person before the cut answers it.
//!
//! Standing: the sign-off and the failing checks clash. `aware` when the signer had one of them in view, `unaware` when they only
//! happened earlier by the clocks.

use std::sync::Arc;

use super::rule::{About, Rule};
use super::signed::{self, Beside, Fault};
use crate::awareness::Awareness;
use crate::case::Case;
use crate::checks::{Outcome, RequiredCheck};
use crate::draft::Draft;
use crate::finding::Severity;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::sign_off::{FailedCheck, NotCounting};
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::world::World;

pub(super) struct CheckFailed;

impl Rule for CheckFailed {
    fn name(&self) -> &'static str {
        "check-failed"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn about(&self) -> About {
        About::Work
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        signed::judge(world, job, Reason::CheckFailed, |sign_off, beside| {
            fault(world, case, sign_off, beside)
        })
    }
}

fn fault(
    world: &World<'_>,
    case: &Case,
    sign_off: &Arc<RecordedFact>,
    beside: Beside<'_>,
) -> Option<Fault<Vec<FailedCheck>>> {
    let states = beside.required_checks(world, case);
    let mut evidence = Vec::new();
    let mut what = Vec::new();
    let mut severity = Severity::Ask;
    for state in states.iter() {
        let Outcome::Failed(failed) = &state.outcome else {
            continue;
        };
        severity = severity.max(severity_of(state, failed));
        what.extend(failed.iter().map(|(fact, why)| failed_check(state, fact, why)));
        evidence.extend(failed.iter().map(|(fact, _)| fact.clone()));
    }
    (!what.is_empty()).then(|| Fault {
        severity,
        awareness: Awareness::between(std::slice::from_ref(sign_off), &evidence),
        evidence,
        what,
    })
}

fn failed_check(state: &RequiredCheck, fact: &RecordedFact, why: &str) -> FailedCheck {
    let not_counting = state.not_counting.iter().map(|(approval, flaw)| NotCounting {
        approval: FactRef::of(approval),
        flaw: *flaw,
    });
    FailedCheck {
        check: state.name.clone(),
        why: why.to_owned(),
        fact: FactRef::of(fact),
        not_counting: not_counting.collect(),
    }
}

/// Out of tolerance where the standard says "ask the office": a question. Recorded as not ok: a stop all the same.
fn severity_of(check: &RequiredCheck, failed: &[(Arc<RecordedFact>, String)]) -> Severity {
    let refused = failed.iter().any(|(fact, _)| fact.fact.flag("ok") == Some(false));
    if check.asks_when_outside && !refused {
        Severity::Ask
    } else {
        Severity::Stop
    }
}
