//! The approvals that counted in a job: for a place outside the default one, and for readings that did not decide.
//!
//! For reports and pages, which say whose word stands behind a value or a cut. Not here: approvals of withdrawals, and those that do
//! not count.

use std::sync::Arc;

use gladhand_trade::Answer;
use gladhand_trade::names::APPROVAL;
use serde::{Deserialize, Serialize};

use crate::approvals::Approved;
use crate::checks::Checks;
use crate::clearance::{clearance, clearance_at};
use crate::counting::Withdrawal;
use crate::job::JobView;
use crate::names::Names;
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

/// An approval that counted, as a report names it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ApprovalLine {
    /// What it approved.
    pub of: Approved,
    /// The check whose value it let pass; `None` for readings.
    pub check: Option<String>,
    /// Whose it is.
    pub by: String,
    /// The name of the device that recorded it.
    pub device: String,
    /// When, as written.
    pub at: String,
}

impl ApprovalLine {
    /// With the name of the device looked up.
    pub fn of(names: &dyn Names, counted: Counted) -> Self {
        let approval = &counted.approval;
        Self {
            of: counted.of,
            by: approval.owned("by").unwrap_or_default(),
            device: names.device_name(&approval.place.log.device),
            at: approval.at().text().to_owned(),
            check: counted.check,
        }
    }
}

/// Those of a job, of whose facts some may be withdrawn: for each required check, then for its cuts, or for the wall as it stands where none was cut.
pub fn counted(world: &World<'_>, job: &JobView, withdrawn: &[Withdrawal]) -> Vec<Counted> {
    // Most jobs have none, and weighing what would need one takes as long as all the rest of a report's line.
    if !job.facts.iter().any(|w| w.fact.check_name() == Some(APPROVAL)) {
        return Vec::new();
    }
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
        cuts.iter()
            .map(|cut| clearance_at(world, &job.facts, withdrawn, cut))
            .collect()
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
