//! The interface of a rule.

use std::sync::Arc;

use gladhand_facts::Kind;

use crate::case::Case;
use crate::draft::Draft;
use crate::readings::is_check;
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject};
use crate::timed::ClockName;
use crate::world::World;

/// What of a job's sign-offs a rule is about: that decides which later job on the trailer answers for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum About {
    /// Proofs and pictures.
    Proof,
    /// Links, settings and checks.
    Work,
    /// No sign-off, or something that stays whoever signs later: cuts, pilot holes, double links, fleets.
    Other,
}

/// A rule. It looks at one subject, keeps no state, and what it finds depends on the facts, the standard and the clocks alone.
pub trait Rule: Sync {
    /// Its name in the contract.
    fn name(&self) -> &'static str;
    /// The classes of subject that it judges.
    fn classes(&self) -> &'static [Class];
    /// What it finds on the subject of `case`.
    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft>;
    /// What of a sign-off it is about.
    fn about(&self) -> About {
        About::Other
    }
    /// The facts that may have put a finding right of which [`Rule::judge`] knows nothing any more.
    fn rights(&self, world: &World<'_>, case: &Case) -> Vec<Arc<RecordedFact>> {
        usual_rights(world, case)
    }
}

/// Withdrawals with their approvals, and facts that a server's time puts before a sign-off that their recorder had seen.
pub(super) fn usual_rights(world: &World<'_>, case: &Case) -> Vec<Arc<RecordedFact>> {
    case.usual_rights(|| read_usual_rights(world, case)).to_vec()
}

fn read_usual_rights(world: &World<'_>, case: &Case) -> Vec<Arc<RecordedFact>> {
    let mut about = case.facts.clone();
    let sign_offs = case.job().map_or(&[][..], |job| job.sign_offs.as_slice());
    if let Some(job) = case.job() {
        let trackers = job.ties.links.iter().map(|link| link.tracker_key.clone());
        let trackers = trackers.chain(job.value_keys("tracker"));
        about.extend(trackers.flat_map(|t| world.facts.about(&Subject::Tracker(t))));
        about.sort_by_key(|w| w.place);
        about.dedup_by_key(|w| w.place);
    }
    let is_late = |w: &RecordedFact| w.clock() == ClockName::Reference && sign_offs.iter().any(|s| s.happens_before(w));
    let approves = |w: &RecordedFact| is_check(w, "approval") && w.fact.text("of").is_some();
    about.retain(|w| w.is(&Kind::Withdraw) || approves(w) || is_late(w));
    about
}
