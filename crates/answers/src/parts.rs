//! What is known of a camera and a tracker before something is recorded about them: which sort a code is, what is linked, and
//! which tracker a job is about.
//!
//! Deliberately absent: findings. What is asked here is whether a command line can be meant, before anything is recorded.

use std::collections::BTreeSet;

use gladhand_facts::code_key;
use gladhand_node::{IndexedFacts, Node, NodeError};
use gladhand_reconcile::ties::{Tie, Ties};
use gladhand_reconcile::{Facts, JobView, Subject};

use crate::error::{AnswerError, ResolveError};

/// Whether the camera and the tracker are in each other's place: each is known here, and only as the other sort.
///
/// # Errors
/// When the store cannot be read.
pub fn are_swapped(node: &Node, camera: &str, tracker: &str) -> Result<bool, NodeError> {
    let indexed = IndexedFacts::new(node);
    let is = |subject: Subject| !indexed.about(&subject).is_empty();
    let (as_camera, as_tracker) = (
        |code: &str| is(Subject::camera(code)),
        |code: &str| is(Subject::tracker(code)),
    );
    let swapped = as_tracker(camera) && as_camera(tracker) && !as_camera(camera) && !as_tracker(tracker);
    indexed.failure()?;
    Ok(swapped)
}

/// Whether the camera and the tracker were ever linked, as far as is known here; and the links of either that are live.
///
/// # Errors
/// When the store cannot be read.
pub fn links_of(node: &Node, camera: &str, tracker: &str) -> Result<(bool, Vec<String>), NodeError> {
    let indexed = IndexedFacts::new(node);
    let mut about = indexed.about(&Subject::camera(camera));
    about.extend(indexed.about(&Subject::tracker(tracker)));
    indexed.failure()?;
    let ties = Ties::among(&about);
    let (camera, tracker) = (code_key(camera), code_key(tracker));
    let is_pair = |link: &Tie| code_key(&link.camera) == camera && code_key(&link.tracker) == tracker;
    let live: BTreeSet<String> = ties
        .live()
        .into_iter()
        .map(|link| match link.recorded.owned("job") {
            Some(job) => format!("camera {} with tracker {} (job {job})", link.camera, link.tracker),
            None => format!("camera {} with tracker {}", link.camera, link.tracker),
        })
        .collect();
    Ok((ties.links.iter().any(is_pair), live.into_iter().collect()))
}

/// Whether anything is known here of a tracker with that code.
///
/// # Errors
/// When the store cannot be read.
pub fn is_tracker(node: &Node, code: &str) -> Result<bool, NodeError> {
    let indexed = IndexedFacts::new(node);
    let known = !indexed.about(&Subject::tracker(code)).is_empty();
    indexed.failure()?;
    Ok(known)
}

/// The tracker that a job is about: the one that is linked, or else the one that the job names.
///
/// # Errors
/// When there is none, or several, or when the store cannot be read.
pub fn tracker_of(node: &Node, job: &str) -> Result<String, AnswerError> {
    let indexed = IndexedFacts::new(node);
    let view = JobView::load(&indexed, job);
    indexed.failure()?;
    let carries = |link: &&&Tie| link.recorded.fact.text("job").is_some();
    let live = view.ties.live();
    let linked: BTreeSet<String> = live.iter().filter(carries).map(|link| link.tracker.clone()).collect();
    let found = if linked.is_empty() {
        view.trackers.clone()
    } else {
        linked
    };
    let found: Vec<String> = found.into_iter().collect();
    match found.as_slice() {
        [one] => Ok(one.clone()),
        [] => Err(ResolveError::NoTracker(view.job).into()),
        _ => Err(ResolveError::Ambiguous {
            what: "tracker",
            given: view.job,
            found,
        }
        .into()),
    }
}
