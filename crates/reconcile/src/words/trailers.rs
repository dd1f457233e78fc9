//! Sentences about trailers with more than one tracker, and trackers on more than one trailer.

use crate::reason::part::{SharedTracker, TrackerUse, TwoPairs, UnlistedTracker};
use crate::words::described::{Described, NextStep, Step};
use crate::words::phrases::listed;
use crate::words::sign_offs::pair;
use crate::words::teller::Teller;

pub(super) fn tracker_on_two_trailers(t: &Teller<'_>, reason: &SharedTracker) -> Described {
    let tracker = t.subject();
    let list = listed(reason.uses.iter().map(|u| tracker_use(t, u)));
    let known = t.knowledge_of(&reason.knowledge, "link");
    Described {
        says: format!("Tracker {tracker} is linked on more than one trailer: {list}{known}."),
        next: format!(
            "Look at both trailers: which of them carries tracker {tracker}? Record an unlink for each link that is wrong."
        ),
        step: NextStep {
            tracker: Some(tracker),
            ..NextStep::new(Step::Unlink)
        },
    }
}

/// `on trailer LF 5396 to camera C1 by …`.
fn tracker_use(t: &Teller<'_>, shared: &TrackerUse) -> String {
    let trailers = t.trailers(&shared.trailers);
    format!(
        "on trailer {trailers} to camera {} by {}",
        shared.camera,
        t.author(&shared.link)
    )
}

pub(super) fn trailer_with_two_pairs(t: &Teller<'_>, reason: &TwoPairs) -> Described {
    let list = listed(reason.links.iter().map(|l| pair(t, l)));
    let known = t.knowledge_of(&reason.knowledge, "link");
    Described {
        says: format!("Trailer {} has live links of two trackers: {list}{known}.", t.subject()),
        next: "Look at the trailer: which tracker does it carry? Record an unlink for each link that is wrong."
            .to_owned(),
        step: NextStep {
            camera: reason.links.first().map(|l| l.camera.clone()),
            tracker: reason.links.first().map(|l| l.tracker.clone()),
            ..NextStep::new(Step::Unlink)
        },
    }
}

pub(super) fn not_the_listed_tracker(t: &Teller<'_>, reason: &UnlistedTracker) -> Described {
    let trailers = listed(&reason.trailers);
    let wanted = listed(
        reason
            .listed
            .iter()
            .map(|l| format!("tracker {} by {}", l.tracker, t.author(&l.entry))),
    );
    let linked = listed(reason.linked.iter().map(|l| pair(t, l)));
    let known = t.knowledge(&reason.knowledge);
    Described {
        says: format!("The lists give trailer {trailers} {wanted}, but linked is {linked}{known}."),
        next: "Read the label of the tracker on the trailer; then correct the link, or have the list corrected."
            .to_owned(),
        step: NextStep {
            tracker: reason.linked.first().map(|l| l.tracker.clone()),
            ..t.ruling_in_job(Step::ComparePair)
        },
    }
}
