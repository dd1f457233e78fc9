//! A link, unlink or settings fact touches the job's pair after its sign-off and the job was not signed again.
//!
//! After = it had seen the sign-off, or neither had seen the other and it is certainly later by corrected time. Signed
//! again is only what had seen the change: a signature does not answer for what the signer could not know.
//!
//! Standing: the change clashes with the sign-off. `aware` when whoever changed had the sign-off in view, `unaware` when only the
//! clocks tell that it came later.

use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::Rule;
use crate::awareness::Awareness;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::recorded_fact::{RecordedFact, latest};
use crate::subject::{Class, Subject};
use crate::words::{deed, deeds, listed};
use crate::world::{Case, World};

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
        let changes = changes(world, job);
        let signed_again = |x: &Arc<RecordedFact>| job.sign_offs.iter().any(|s| x.happens_before(s));
        let (over, open): (Vec<_>, Vec<_>) = changes.into_iter().partition(signed_again);
        let told = if open.is_empty() { &over } else { &open };
        let before = |s: &&Arc<RecordedFact>| told.iter().any(|x| world.clocks.follows(x, s));
        let signed: Vec<_> = job.sign_offs.iter().filter(before).cloned().collect();
        let mended_by = if open.is_empty() {
            job.latest_sign_offs()
        } else {
            job.stand_downs_after_all()
        };
        draft(world, job, &latest(&signed), told, mended_by)
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
    signed: &[Arc<RecordedFact>],
    changes: &[Arc<RecordedFact>],
    mended_by: Vec<Arc<RecordedFact>>,
) -> Option<Draft> {
    let sign_off = signed.first()?;
    let each = changes.iter().map(|x| describe(world, x));
    let awareness = Awareness::between(signed, changes);
    let (job_name, by) = (&job.job, deed(world, sign_off));
    let body = format!(
        "After job {job_name} was signed off by {by}, its pair was changed: {}{}",
        listed(each),
        awareness.describe(world)
    );
    let draft = Draft::new(Severity::Ask, [job.job.clone()])
        .by([signed, changes, &mended_by].concat())
        .standing(awareness.standing());
    if mended_by.is_empty() {
        return Some(draft.open(
            format!("{body}; nobody who knew of that signed the job off again."),
            "Check that camera and tracker still work together, take a new proof picture, then sign off again.",
        ));
    }
    let signed_again = mended_by.iter().all(|w| w.is(&Kind::SignOff));
    let end = if signed_again { "signed off again" } else { "stood down" };
    Some(draft.cleared(format!(
        "{body}; the job was {end} since by {}.",
        deeds(world, &mended_by)
    )))
}

/// `unlink of C1 from T1 by …`, `settings live for T1 by …`.
fn describe(world: &World<'_>, change: &RecordedFact) -> String {
    let text = |key: &str| change.owned(key).unwrap_or_else(|| "?".to_owned());
    let by = deed(world, change);
    match change.fact.kind() {
        Kind::Link => format!(
            "link of camera {} to tracker {} by {by}",
            text("camera"),
            text("tracker")
        ),
        Kind::Unlink => format!(
            "unlink of camera {} from tracker {} by {by}",
            text("camera"),
            text("tracker")
        ),
        _ => format!("settings {} for tracker {} by {by}", text("state"), text("tracker")),
    }
}
