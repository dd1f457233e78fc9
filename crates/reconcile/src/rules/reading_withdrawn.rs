//! A check or reading was withdrawn: by whom, why, with whose approval.
//!
//! One that somebody else must approve first, and nobody has, stays in force and is told too.
//!
//! Standing: `-`. A slip that was taken back clashes with nothing.

use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::Rule;
use crate::case::Case;
use crate::counting::Withdrawal;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::wall::{TakenBack, WithdrawnReadings};
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::world::World;

pub(super) struct ReadingWithdrawn;

impl Rule for ReadingWithdrawn {
    fn name(&self) -> &'static str {
        "reading-withdrawn"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn judge(&self, _world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        let found = case.withdrawn().iter().filter(|w| w.of.is(&Kind::Check));
        let found: Vec<&Withdrawal> = found.collect();
        if found.is_empty() {
            return None;
        }
        let reason = Reason::ReadingWithdrawn(WithdrawnReadings {
            readings: found.iter().map(|w| taken_back(w)).collect(),
        });
        let evidence = found.iter().flat_map(|w| [w.of.clone(), w.by.clone()]);
        Some(Draft::new(Severity::Note, [job.key.clone()], reason).made_by(evidence))
    }
}

fn taken_back(withdrawal: &Withdrawal) -> TakenBack {
    let check = |w: &Arc<RecordedFact>| w.owned("check").unwrap_or_default();
    TakenBack {
        check: check(&withdrawal.of),
        reading: FactRef::of(&withdrawal.of),
        why: withdrawal.by.owned("why").unwrap_or_default(),
        by: FactRef::of(&withdrawal.by),
        approved_by: withdrawal.approved_by.as_ref().map(|w| FactRef::of(w)),
        counts: withdrawal.counts,
    }
}
