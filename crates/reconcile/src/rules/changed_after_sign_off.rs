//! A link, unlink or settings fact touches the job's pair after its sign-off and the job was not signed again.
//!
//! After = it had seen the sign-off, or neither had seen the other and it is certainly later by corrected time. Only a sign-off
//! that had seen the change counts as signing again: a signature does not answer for what the signer could not know.
//!
//! Standing: the change clashes with the sign-off. `aware` when the recorder of the change had the sign-off in view, `unaware` when
//! only the clocks show that it came later.

use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::Rule;
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::reason::Reason;
use crate::reason::fact_ref::{FactLabel, FactRef};
use crate::reason::sign_off::{Change, ChangedPair, Resolution};
use crate::recorded_fact::{RecordedFact, latest};
use crate::subject::{Class, Subject};
use crate::world::World;

pub(super) struct ChangedAfterSignOff;

impl Rule for ChangedAfterSignOff {
    fn name(&self) -> &'static str {
        "changed-after-sign-off"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        let signed_again = |x: &Arc<RecordedFact>| job.sign_offs.iter().any(|s| x.happens_before(s));
        let (over, open): (Vec<_>, Vec<_>) = changes(world, job).into_iter().partition(signed_again);
        let (changes, resolved_by) = if open.is_empty() {
            (over, job.latest_sign_offs())
        } else {
            (open, job.stand_downs_after_all())
        };
        draft(world, job, &changes, &resolved_by)
    }
}

/// The links, unlinks and settings of the job's parts that came after one of its sign-offs.
fn changes(world: &World<'_>, job: &JobView) -> Vec<Arc<RecordedFact>> {
    let cameras = job.cameras.iter().cloned().map(Subject::Camera);
    let trackers = job.trackers.iter().cloned().map(Subject::Tracker);
    let mut found: Vec<_> = cameras.chain(trackers).flat_map(|s| world.facts.about(&s)).collect();
    let touches = |x: &RecordedFact| matches!(x.fact.kind(), Kind::Link | Kind::Unlink | Kind::Settings);
    found.retain(|x| touches(x) && job.sign_offs.iter().any(|s| world.clocks.follows(x, s)));
    found.sort_by_key(|x| x.place);
    found.dedup_by_key(|x| x.place);
    found
}

fn draft(
    world: &World<'_>,
    job: &JobView,
    changes: &[Arc<RecordedFact>],
    resolved_by: &[Arc<RecordedFact>],
) -> Option<Draft> {
    let before = |s: &&Arc<RecordedFact>| changes.iter().any(|x| world.clocks.follows(x, s));
    let signed: Vec<_> = job.sign_offs.iter().filter(before).cloned().collect();
    let signed = latest(&signed);
    let awareness = Awareness::between(&signed, changes);
    let change = |x: &Arc<RecordedFact>| Change {
        what: FactLabel::of(x),
        fact: FactRef::timed(x, world.clocks),
    };
    let reason = Reason::ChangedAfterSignOff(ChangedPair {
        sign_off: FactRef::timed(signed.first()?, world.clocks),
        changes: changes.iter().map(change).collect(),
        knowledge: awareness.knowledge(world),
        resolution: resolution(resolved_by),
    });
    let draft = Draft::new(Severity::Ask, [job.job.clone()], reason)
        .made_by([&signed, changes, resolved_by].concat())
        .standing(awareness.standing())
        .cleared(!resolved_by.is_empty());
    Some(draft)
}

fn resolution(resolved_by: &[Arc<RecordedFact>]) -> Option<Resolution> {
    let facts = FactRef::all(resolved_by);
    let first = resolved_by.first()?;
    Some(if first.is(&Kind::SignOff) {
        Resolution::SignedAgain(facts)
    } else {
        Resolution::StoodDown(facts)
    })
}
