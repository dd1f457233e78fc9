//! What the rules about sign-offs share.
//!
//! The latest sign-offs are judged: those that no other sign-off of the job follows. If they are sound and an
//! earlier one was not, the finding is cleared; so it is when the job was stood down after all of them.
//!
//! Of several bad sign-offs the worst speaks, and of equally bad ones one whose signer could have known; it gives the finding
//! its sentence and its standing.

use std::sync::Arc;

use crate::awareness::Awareness;
use crate::draft::Draft;
use crate::finding::{Severity, Standing};
use crate::job::JobView;
use crate::recorded_fact::RecordedFact;
use crate::words::{deed, deeds};
use crate::world::World;

/// What is wrong with one sign-off.
pub(super) struct Trouble {
    pub severity: Severity,
    /// The facts that make it, beside the sign-off.
    pub evidence: Vec<Arc<RecordedFact>>,
    /// Whether the signer knew of what clashes with the sign-off, or the other way round.
    pub awareness: Awareness,
    /// A sentence without its full stop, and without what `awareness` adds.
    pub says: String,
    pub next: String,
}

impl Trouble {
    /// How much it matters, then whether somebody could have known.
    fn rank(&self) -> (Severity, bool) {
        (self.severity, self.awareness.standing() == Standing::Aware)
    }
}

/// Judges the sign-offs of `job` by `trouble`.
pub(super) fn judge<F>(world: &World<'_>, job: &JobView, trouble: F) -> Option<Draft>
where
    F: Fn(&Arc<RecordedFact>) -> Option<Trouble>,
{
    let find = |sign_offs: &[Arc<RecordedFact>]| -> Vec<(Arc<RecordedFact>, Trouble)> {
        sign_offs
            .iter()
            .filter_map(|s| Some((s.clone(), trouble(s)?)))
            .collect()
    };
    let last = job.latest_sign_offs();
    let in_last = find(&last);
    let stood_down = job.stand_downs_after_all();
    if !in_last.is_empty() {
        let after = format!("the job was stood down since by {}", deeds(world, &stood_down));
        return draft(world, job, in_last, &stood_down, after);
    }
    let is_last = |s: &Arc<RecordedFact>| last.iter().any(|l| l.place == s.place);
    let earlier: Vec<Arc<RecordedFact>> = job.sign_offs.iter().filter(|s| !is_last(s)).cloned().collect();
    let in_earlier = find(&earlier);
    let after = format!("the job was signed off again since by {}", deeds(world, &last));
    draft(world, job, in_earlier, &last, after)
}

/// One finding from all troubles. `mended_by` are the facts that clear it, `after` says how.
fn draft(
    world: &World<'_>,
    job: &JobView,
    troubles: Vec<(Arc<RecordedFact>, Trouble)>,
    mended_by: &[Arc<RecordedFact>],
    after: String,
) -> Option<Draft> {
    let rank = troubles.iter().map(|(_, t)| t.rank()).max()?;
    let (_, worst) = troubles.iter().find(|(_, t)| t.rank() == rank)?;
    let says = format!("{}{}", worst.says, worst.awareness.describe(world));
    let (standing, next) = (worst.awareness.standing(), worst.next.clone());
    let evidence = troubles.into_iter().flat_map(|(s, t)| [vec![s], t.evidence].concat());
    let draft = Draft::new(rank.0, [job.job.clone()]).by(evidence).standing(standing);
    Some(if mended_by.is_empty() {
        draft.open(format!("{says}."), next)
    } else {
        draft.by(mended_by.iter().cloned()).cleared(format!("{says}; {after}."))
    })
}

/// `Job J1 was signed off by mara on lap-1 (…)`.
pub(super) fn signed_off(world: &World<'_>, job: &JobView, sign_off: &RecordedFact) -> String {
    format!("Job {} was signed off by {}", job.job, deed(world, sign_off))
}
