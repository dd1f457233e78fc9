//! The approvals that counted in a job: for a place outside the default one, and for readings that did not decide.
//!
//! For reports and pages, which say whose word stands behind a value or a cut. Not here: approvals of withdrawals, and those that do
//! not count.

use std::sync::Arc;

use gladhand_trade::Answer;

use crate::approvals::Approved;
use crate::checks::Checks;
use crate::clearance::{clearance, clearance_at};
use crate::job::JobView;
use crate::readings::cuts;
use crate::recorded_fact::{RecordedFact, earliest};
use crate::world::World;

/// An approval that counted.
#[derive(Debug, Clone, PartialEq)]
pub struct Counted {
    /// The approval.
    pub approval: Arc<RecordedFact>,
    /// What it approved.
    pub of: Approved,
    /// The check whose value it let pass; `None` for readings.
    pub check: Option<String>,
}

/// Those of a job: for each required check, then for its cuts, or for the wall as it stands where none was cut.
pub fn counted(world: &World<'_>, job: &JobView) -> Vec<Counted> {
    let checks = Checks::so_far(world, job);
    let mut found = Vec::new();
    for state in checks.required().into_iter().map(|r| checks.state(r)) {
        let name = state.requirement.name();
        found.extend(state.approved_by.into_iter().map(|approval| Counted {
            approval,
            of: Approved::Place,
            check: Some(name.to_owned()),
        }));
    }
    let cuts = earliest(&cuts(world, &job.facts));
    let answers: Vec<Answer> = if cuts.is_empty() {
        vec![clearance(world, &job.facts)]
    } else {
        cuts.iter().map(|cut| clearance_at(world, &job.facts, cut)).collect()
    };
    for answer in answers {
        let Answer::Clear {
            by_approval: Some(by), ..
        } = answer
        else {
            continue;
        };
        let counts = |w: &&Arc<RecordedFact>| w.fact.id() == by.fact;
        let approval = job.facts.iter().find(counts).cloned();
        let counted = approval.map(|approval| Counted {
            approval,
            of: Approved::Reading,
            check: None,
        });
        found.extend(counted.filter(|c| !found.contains(c)));
    }
    found
}
