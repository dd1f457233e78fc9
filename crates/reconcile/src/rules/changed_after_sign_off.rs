//! A link, unlink or settings fact touches the job's pair after its sign-off and the job was not signed again.
//!
//! After = it had seen the sign-off, or neither had seen the other and it is certainly later by corrected time. Only a sign-off
//! that had seen the change counts as signing again: a signature does not answer for what the signer could not know. After a take-off
//! only a link is a change.
//!
//! Standing: the change clashes with the sign-off. `aware` when the recorder of the change had the sign-off in view, `unaware` when
//! only the clocks show that it came later.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::{About, Rule};
use super::signed_before_live::fits;
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::placed::Placed;
use crate::purpose::Purpose;
use crate::reason::Reason;
use crate::reason::fact_ref::{FactLabel, FactRef};
use crate::reason::sign_off::{Change, ChangedPair, Resolution};
use crate::recorded_fact::{RecordedFact, latest};
use crate::subject::{Class, Subject};
use crate::ties::Tie;
use crate::world::World;

pub(super) struct ChangedAfterSignOff;

impl Rule for ChangedAfterSignOff {
    fn name(&self) -> &'static str {
        "changed-after-sign-off"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn about(&self) -> About {
        About::Work
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        let siblings = case.siblings(world);
        let answers = |x: &Arc<RecordedFact>| signed_again(job, siblings, x);
        let (over, open): (Vec<_>, Vec<_>) = changes(world, job, siblings)
            .into_iter()
            .partition(|x| !answers(x).is_empty());
        let (changes, resolved_by) = if open.is_empty() {
            let by = over.iter().flat_map(answers).collect();
            (over, by)
        } else {
            (open, job.standing_stand_downs())
        };
        draft(world, job, &changes, &resolved_by)
    }
}

type Facts = Vec<Arc<RecordedFact>>;

/// The sign-offs of this job, or of later jobs on the trailer, whose signers had seen the change.
fn signed_again(job: &JobView, siblings: &[JobView], change: &RecordedFact) -> Facts {
    let own = job.sign_offs.iter();
    let is_later = |s: &&Arc<RecordedFact>| job.sign_offs.iter().any(|own| own.happens_before(s));
    let later = siblings
        .iter()
        .flat_map(|other| other.sign_offs.iter())
        .filter(is_later);
    own.chain(later).filter(|s| change.happens_before(s)).cloned().collect()
}

/// The links, unlinks and settings that touch the pair as of one of the latest sign-offs, and came after it. What came after a later
/// signed job on the trailer concerns only that one.
fn changes(world: &World<'_>, job: &JobView, siblings: &[JobView]) -> Facts {
    let mut found = Facts::new();
    for sign_off in &job.sign_offs {
        let pair: Vec<&Tie> = job.live_as_of(sign_off).collect();
        let later: Vec<&Arc<RecordedFact>> = siblings
            .iter()
            .filter(|other| other.is_signed())
            .flat_map(|other| other.sign_offs.iter())
            .filter(|s| sign_off.happens_before(s))
            .collect();
        // That the pair comes off is what a take-off is for, also when it is recorded late.
        let takes_off = job.purpose_at(sign_off) == Purpose::TakeOff;
        let is_change = |x: &RecordedFact| !takes_off || x.is(&Kind::Link);
        let is_anothers = |x: &RecordedFact| later.iter().any(|s| s.happens_before(x));
        let about = parts(&pair).into_iter().flat_map(|part| world.facts.about(&part));
        let after = about.filter(|x| pair.iter().any(|tie| touches(x, tie)) && is_after(world, x, sign_off));
        found.extend(after.filter(|x| is_change(x) && !is_anothers(x)));
    }
    found.sort_by_key(|x| x.place);
    found.dedup_by_key(|x| x.place);
    found
}

fn parts(pair: &[&Tie]) -> BTreeSet<Subject> {
    let cameras = pair.iter().map(|tie| Subject::Camera(tie.camera_key.clone()));
    let trackers = pair.iter().map(|tie| Subject::Tracker(tie.tracker_key.clone()));
    cameras.chain(trackers).collect()
}

/// An unlink touches a pair by both its codes, a link by one, settings by the tracker.
fn touches(change: &RecordedFact, tie: &Tie) -> bool {
    let camera = change.key("camera").is_some_and(|key| key == tie.camera_key);
    let tracker = change.key("tracker").is_some_and(|key| key == tie.tracker_key);
    match change.fact.kind() {
        Kind::Unlink => camera && tracker,
        Kind::Link => camera || tracker,
        Kind::Settings => tracker && fits(change, tie),
        _ => false,
    }
}

/// It had seen the sign-off, or neither had seen the other and it is certainly later.
fn is_after(world: &World<'_>, change: &RecordedFact, sign_off: &RecordedFact) -> bool {
    match world.clocks.placed(change, sign_off) {
        Placed::After | Placed::Afterwards => !change.happens_before(sign_off),
        Placed::Before | Placed::Undecided => false,
    }
}

fn draft(
    world: &World<'_>,
    job: &JobView,
    changes: &[Arc<RecordedFact>],
    resolved_by: &[Arc<RecordedFact>],
) -> Option<Draft> {
    let before = |s: &&Arc<RecordedFact>| changes.iter().any(|x| is_after(world, x, s));
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
    let draft = Draft::new(Severity::Ask, [job.key.clone()], reason)
        .made_by([&signed, changes].concat())
        .standing(awareness.standing())
        .cleared_by(resolved_by.iter().cloned());
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
