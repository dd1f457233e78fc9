//! The shared part of the rules about sign-offs.
//!
//! The latest sign-offs are judged: those that no other sign-off of the job follows. If they are sound and an earlier one was not,
//! the finding is cleared; it is cleared too when the job was stood down after all of them.
//!
//! Of several bad sign-offs the worst gives the finding its reason and its standing, and of equally bad ones the first whose
//! signer could have known.

use std::sync::Arc;

use crate::awareness::Awareness;
use crate::draft::Draft;
use crate::finding::{Severity, Standing};
use crate::job::JobView;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::sign_off::{BadSignOff, Resolution};
use crate::recorded_fact::RecordedFact;
use crate::world::World;

/// What is wrong with one sign-off.
pub(super) struct Fault<T> {
    pub severity: Severity,
    /// The facts that show it, beside the sign-off.
    pub evidence: Vec<Arc<RecordedFact>>,
    /// Whether the signer had seen what clashes with the sign-off, or the other way round.
    pub awareness: Awareness,
    pub what: T,
}

impl<T> Fault<T> {
    /// How much it matters, then whether somebody could have known.
    fn rank(&self) -> (Severity, bool) {
        (self.severity, self.awareness.standing() == Standing::Aware)
    }
}

type FaultySignOff<T> = (Arc<RecordedFact>, Fault<T>);

/// Judges the sign-offs of `job` by `fault`; `reason` is the one of the rule that asks.
pub(super) fn judge<T>(
    world: &World<'_>,
    job: &JobView,
    reason: fn(BadSignOff<T>) -> Reason,
    fault: impl Fn(&Arc<RecordedFact>) -> Option<Fault<T>>,
) -> Option<Draft> {
    let find = |sign_offs: &[Arc<RecordedFact>]| -> Vec<FaultySignOff<T>> {
        let faulty = sign_offs.iter().filter_map(|s| Some((s.clone(), fault(s)?)));
        faulty.collect()
    };
    let last = job.latest_sign_offs();
    let in_last = find(&last);
    if !in_last.is_empty() {
        let stood_down = job.stand_downs_after_all();
        return draft(world, job, reason, in_last, (&stood_down, Resolution::StoodDown));
    }
    let is_last = |s: &Arc<RecordedFact>| last.iter().any(|l| l.place == s.place);
    let earlier: Vec<Arc<RecordedFact>> = job.sign_offs.iter().filter(|s| !is_last(s)).cloned().collect();
    draft(world, job, reason, find(&earlier), (&last, Resolution::SignedAgain))
}

/// The facts that resolve a finding, and how. Without any it is open.
type Resolving<'a> = (&'a [Arc<RecordedFact>], fn(Vec<FactRef>) -> Resolution);

/// One finding from all faults.
fn draft<T>(
    world: &World<'_>,
    job: &JobView,
    reason: fn(BadSignOff<T>) -> Reason,
    mut faulty: Vec<FaultySignOff<T>>,
    (resolved_by, resolution): Resolving<'_>,
) -> Option<Draft> {
    let evidence: Vec<_> = faulty
        .iter()
        .flat_map(|(s, f)| std::iter::once(s).chain(&f.evidence))
        .cloned()
        .collect();
    let rank = faulty.iter().map(|(_, f)| f.rank()).max()?;
    let worst = faulty.iter().position(|(_, f)| f.rank() == rank)?;
    let (sign_off, fault) = faulty.swap_remove(worst);
    let standing = fault.awareness.standing();
    let is_resolved = !resolved_by.is_empty();
    let reason = reason(BadSignOff {
        sign_off: FactRef::timed(&sign_off, world.clocks),
        knowledge: fault.awareness.knowledge(world),
        fault: fault.what,
        resolution: is_resolved.then(|| resolution(FactRef::all(resolved_by))),
    });
    let draft = Draft::new(fault.severity, [job.job.clone()], reason)
        .made_by(evidence)
        .made_by(resolved_by.iter().cloned())
        .standing(standing)
        .cleared(is_resolved);
    Some(draft)
}
