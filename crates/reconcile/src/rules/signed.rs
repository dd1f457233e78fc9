//! The shared part of the rules about sign-offs.
//!
//! The latest sign-offs are judged: those that no other sign-off of the job follows. If they are sound and an earlier one was not,
//! the finding is cleared. After a stand-down nothing about sign-offs is open.
//!
//! A stop that goes away once facts are believed that were recorded after the sign-off, with an earlier time of a device's clock or
//! of a person, is a question: somebody who has seen them must sign again.
//!
//! Of several bad sign-offs the worst gives the finding its reason and its standing, and of equally bad ones the first whose
//! signer could have known.

use std::rc::Rc;
use std::sync::Arc;

use crate::awareness::Awareness;
use crate::case::Case;
use crate::checks::RequiredCheck;
use crate::clocks::Clocks;
use crate::draft::Draft;
use crate::finding::{Severity, Standing};
use crate::job::JobView;
use crate::placed::Placed;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::sign_off::{BadSignOff, Resolution};
use crate::recorded_fact::RecordedFact;
use crate::world::World;

/// What is wrong with one sign-off.
pub(super) struct Fault<T> {
    pub severity: Severity,
    /// The facts that make it, beside the sign-off. What would put it right is none of them.
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

/// How facts lie beside one sign-off.
#[derive(Clone, Copy)]
pub(super) struct Beside<'a> {
    clocks: &'a Clocks,
    sign_off: &'a RecordedFact,
    /// Whether an earlier time is believed of facts that were recorded afterwards.
    is_trusting: bool,
}

impl Beside<'_> {
    /// Where a fact lies; never [`Placed::Afterwards`].
    pub fn placed(&self, fact: &RecordedFact) -> Placed {
        match self.clocks.placed(fact, self.sign_off) {
            Placed::Afterwards if self.is_trusting => Placed::Before,
            Placed::Afterwards => Placed::After,
            placed => placed,
        }
    }

    /// The required checks as they stood before the sign-off.
    pub fn required_checks(&self, world: &World<'_>, case: &Case) -> Rc<Vec<RequiredCheck>> {
        case.required_checks(world, self.sign_off, self.is_trusting, |check| self.is_before(check))
    }

    /// Whether a fact counts as before the sign-off.
    pub fn is_before(&self, fact: &RecordedFact) -> bool {
        self.placed(fact) == Placed::Before
    }
}

struct Faulty<T> {
    sign_off: Arc<RecordedFact>,
    fault: Fault<T>,
    /// Facts recorded afterwards would put it right.
    is_put_right_afterwards: bool,
}

/// Judges the sign-offs of `job` by `fault`; `reason` is the one of the rule that asks.
pub(super) fn judge<T>(
    world: &World<'_>,
    job: &JobView,
    reason: fn(BadSignOff<T>) -> Reason,
    fault: impl Fn(&Arc<RecordedFact>, Beside<'_>) -> Option<Fault<T>>,
) -> Option<Draft> {
    let find = |sign_offs: &[Arc<RecordedFact>]| -> Vec<Faulty<T>> {
        sign_offs.iter().filter_map(|s| weigh(world, s, &fault)).collect()
    };
    let last = job.latest_sign_offs();
    let in_last = find(&last);
    if !in_last.is_empty() {
        let stood_down = job.standing_stand_downs();
        return draft(world, job, reason, in_last, (&stood_down, Resolution::StoodDown));
    }
    let is_last = |s: &Arc<RecordedFact>| last.iter().any(|l| l.place == s.place);
    let earlier: Vec<Arc<RecordedFact>> = job.sign_offs.iter().filter(|s| !is_last(s)).cloned().collect();
    draft(world, job, reason, find(&earlier), (&last, Resolution::SignedAgain))
}

/// What is wrong with a sign-off by what certainly was before it, or by what is said to have been.
fn weigh<T>(
    world: &World<'_>,
    sign_off: &Arc<RecordedFact>,
    fault: &impl Fn(&Arc<RecordedFact>, Beside<'_>) -> Option<Fault<T>>,
) -> Option<Faulty<T>> {
    let beside = |is_trusting| Beside {
        clocks: world.clocks,
        sign_off,
        is_trusting,
    };
    let mut found = Faulty {
        fault: fault(sign_off, beside(false))?,
        sign_off: sign_off.clone(),
        is_put_right_afterwards: false,
    };
    if found.fault.severity > Severity::Ask {
        let believed = fault(sign_off, beside(true)).map_or(Severity::Ask, |f| f.severity);
        found.is_put_right_afterwards = believed < found.fault.severity;
        found.fault.severity = found.fault.severity.min(believed);
    }
    Some(found)
}

/// The facts that resolve a finding, and how. Without any it is open.
type Resolving<'a> = (&'a [Arc<RecordedFact>], fn(Vec<FactRef>) -> Resolution);

/// One finding from all faults.
fn draft<T>(
    world: &World<'_>,
    job: &JobView,
    reason: fn(BadSignOff<T>) -> Reason,
    mut faulty: Vec<Faulty<T>>,
    (resolved_by, resolution): Resolving<'_>,
) -> Option<Draft> {
    let evidence: Vec<_> = faulty
        .iter()
        .flat_map(|f| std::iter::once(&f.sign_off).chain(&f.fault.evidence))
        .cloned()
        .collect();
    let rank = faulty.iter().map(|f| f.fault.rank()).max()?;
    let worst = faulty.iter().position(|f| f.fault.rank() == rank)?;
    let Faulty {
        sign_off,
        fault,
        is_put_right_afterwards,
    } = faulty.swap_remove(worst);
    let standing = fault.awareness.standing();
    let is_resolved = !resolved_by.is_empty();
    let reason = reason(BadSignOff {
        sign_off: FactRef::timed(&sign_off, world.clocks),
        knowledge: fault.awareness.knowledge(world),
        fault: fault.what,
        afterwards: is_put_right_afterwards,
        resolution: is_resolved.then(|| resolution(FactRef::all(resolved_by))),
    });
    let draft = Draft::new(fault.severity, [job.key.clone()], reason)
        .made_by(evidence)
        .standing(standing)
        .cleared_by(resolved_by.iter().cloned());
    Some(draft)
}
