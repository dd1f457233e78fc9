//! The jobs on one trailer, and which of them speaks for it.
//!
//! The newest signed job that has seen the others speaks. Two signed jobs of which neither had the other in view: nobody speaks.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::Kind;

use crate::facts::Facts;
use crate::job::{JobView, sibling_keys};
use crate::recorded_fact::RecordedFact;
use crate::subject::Subject;

/// The jobs whose field `trailer` names the trailer of that key now, by the keys of their names.
pub fn jobs_on(facts: &dyn Facts, trailer: &str) -> Vec<JobView> {
    let about = facts.about(&Subject::Trailer(trailer.to_owned()));
    let named: BTreeSet<String> = about
        .iter()
        .filter(|w| w.is(&Kind::Job))
        .filter_map(|w| w.key("job"))
        .collect();
    let views = named.iter().map(|job| JobView::load(facts, job));
    views
        .filter(|view| view.value_keys("trailer").contains(trailer))
        .collect()
}

/// The other jobs on the trailers of `job`.
pub fn siblings(facts: &dyn Facts, job: &JobView) -> Vec<JobView> {
    let keys = sibling_keys(facts, &job.key, &job.fields);
    keys.iter().map(|key| JobView::load(facts, key)).collect()
}

/// The signed job that has seen all other signed ones; `None` when no job is signed, or when nobody speaks.
pub fn speaker<'j>(jobs: &[&'j JobView]) -> Option<&'j JobView> {
    let signed: Vec<&JobView> = jobs.iter().copied().filter(|job| job.is_signed()).collect();
    let speaks = |job: &&JobView| signed.iter().all(|other| other.key == job.key || has_seen(job, other));
    signed.iter().copied().find(speaks)
}

/// Whether a latest sign-off of `job` had the latest sign-offs of `other` in view.
pub fn has_seen(job: &JobView, other: &JobView) -> bool {
    let others = other.latest_sign_offs();
    let seen_by = |s: &Arc<RecordedFact>| others.iter().all(|o| o.happens_before(s));
    job.latest_sign_offs().iter().any(seen_by)
}
