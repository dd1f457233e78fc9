//! Sentences about sign-offs.

use crate::approvals::Flaw;
use crate::finding::Severity;
use crate::reason::fact_ref::{FactLabel, FactRef, PairRef};
use crate::reason::sign_off::{
    BadSignOff, Change, ChangedPair, FailedCheck, MissingCheck, MissingChecks, MissingLink, MissingProof, NotLive,
};
use crate::words::described::{Described, NextStep, Step};
use crate::words::phrases::{label, listed, or_unknown};
use crate::words::teller::Teller;

/// `Job J1 was signed off by mara on lap-1 (…)`, then what is wrong, then who could have known, then what cleared it.
pub(super) fn says<T>(t: &Teller<'_>, reason: &BadSignOff<T>, fault: &str) -> String {
    let signed = t.author(&reason.sign_off);
    let known = t.knowledge(&reason.knowledge);
    let afterwards = if reason.afterwards {
        "; what would put it right was recorded afterwards, with an earlier time that no server vouches for"
    } else {
        ""
    };
    let resolved = match &reason.resolution {
        Some(resolution) => format!("; {}", t.resolution(resolution)),
        None => String::new(),
    };
    format!(
        "Job {} was signed off by {signed}{fault}{afterwards}{known}{resolved}.",
        t.subject()
    )
}

pub(super) fn without_link(t: &Teller<'_>, reason: &BadSignOff<MissingLink>) -> Described {
    if let MissingLink::StillLinked(links) = &reason.fault {
        return still_linked(t, reason, links);
    }
    let why = match &reason.fault {
        MissingLink::Never | MissingLink::StillLinked(_) => "no link of it was ever recorded".to_owned(),
        MissingLink::TakenOff(unlinks) => listed(unlinks.iter().map(|u| taken_off(t, u))),
        MissingLink::NotSeen(links) => {
            let links = links.iter();
            let links = links.map(|l| format!("{} to {} by {}", l.camera, l.tracker, t.author(&l.fact)));
            format!("linked only elsewhere or later: {}", listed(links))
        }
    };
    Described {
        says: says(t, reason, &format!(" with no camera linked: {why}")),
        next: "Check on the trailer that the camera is tied to this tracker, record the link, then sign off again."
            .to_owned(),
        step: t.step_in_job(Step::Link),
    }
}

fn still_linked(t: &Teller<'_>, reason: &BadSignOff<MissingLink>, links: &[PairRef]) -> Described {
    let list = listed(links.iter().map(|l| pair(t, l)));
    let first = links.first();
    Described {
        says: says(t, reason, &format!(" as taken off, but still linked is {list}")),
        next: "Record the unlink of what was taken off, then sign off again.".to_owned(),
        step: NextStep {
            camera: first.map(|l| l.camera.clone()),
            tracker: first.map(|l| l.tracker.clone()),
            ..t.step_in_job(Step::Unlink)
        },
    }
}

/// `camera C1 to tracker T1 by …`.
pub(super) fn pair(t: &Teller<'_>, link: &PairRef) -> String {
    format!(
        "camera {} to tracker {} by {}",
        link.camera,
        link.tracker,
        t.author(&link.fact)
    )
}

fn taken_off(t: &Teller<'_>, unlink: &PairRef) -> String {
    let by = t.author(&unlink.fact);
    format!(
        "camera {} was taken off tracker {} by {by}",
        unlink.camera, unlink.tracker
    )
}

pub(super) fn before_live(t: &Teller<'_>, reason: &BadSignOff<NotLive>) -> Described {
    let is_certain = t.finding.severity == Severity::Stop;
    let (next, step) = if is_certain {
        let next = "Do not rely on the camera: check that the settings are live, take a new proof picture, then sign off again.";
        (next, t.step_in_job(Step::CheckSettings))
    } else {
        let next = "Compare with the server's time for these settings; if they were live, rule on it, otherwise sign off again.";
        (next, t.ruling_in_job(Step::CompareSettingsTime))
    };
    let tracker = reason.fault.trackers.first().map(|tracker| tracker.tracker.clone());
    Described {
        says: says(t, reason, &not_live(t, &reason.fault, is_certain)),
        next: next.to_owned(),
        step: NextStep { tracker, ..step },
    }
}

fn not_live(t: &Teller<'_>, fault: &NotLive, is_certain: bool) -> String {
    let trackers = listed(fault.trackers.iter().map(|tracker| &tracker.tracker));
    let live: Vec<&FactRef> = fault.trackers.iter().flat_map(|tracker| &tracker.live).collect();
    let recorded = t.authors(live.iter().copied());
    let overtaking: Vec<&FactRef> = fault.trackers.iter().flat_map(|tracker| &tracker.overtaking).collect();
    if !overtaking.is_empty() {
        let overtaking = t.authors(overtaking);
        return if is_certain && live.is_empty() {
            format!(
                ", but nothing says that the settings of tracker {trackers} were ever live: asked for or failed, as recorded by {overtaking}"
            )
        } else if is_certain {
            format!(
                ", but the latest settings of tracker {trackers} before it are not live but asked for or failed, as recorded by {overtaking}; they are recorded live by {recorded}"
            )
        } else {
            format!(
                ", and it cannot be told whether the settings of tracker {trackers} were still live by then: recorded live by {recorded}, asked for by {overtaking}"
            )
        };
    }
    match (is_certain, live.is_empty()) {
        (true, true) => {
            let links = t.authors(fault.trackers.iter().flat_map(|tracker| &tracker.links));
            format!(", but nothing says that tracker {trackers}, linked by {links}, ever had live settings")
        }
        (true, false) => format!(
            ", but the settings of tracker {trackers} were not live between its link and the sign-off: recorded live by {recorded}"
        ),
        (false, _) => format!(
            ", and it cannot be told whether the settings of tracker {trackers} were live by then: recorded live by {recorded}"
        ),
    }
}

pub(super) fn without_proof(t: &Teller<'_>, reason: &BadSignOff<MissingProof>) -> Described {
    let why = match &reason.fault {
        MissingProof::NeverJudged => "no picture of it was ever judged".to_owned(),
        MissingProof::JudgedBad(by) => format!("its picture was judged, but not as good, by {}", t.authors(by)),
        MissingProof::NotBefore(by) => format!("its picture was judged good by {}, but not before", t.authors(by)),
    };
    Described {
        says: says(t, reason, &format!(" without a proof picture judged good: {why}")),
        next: "Request a proof picture with the doors closed, judge it, then sign off again.".to_owned(),
        step: t.step_in_job(Step::RequestProof),
    }
}

pub(super) fn check_missing(t: &Teller<'_>, reason: &BadSignOff<MissingChecks>) -> Described {
    let MissingChecks { fields, checks } = &reason.fault;
    let unknown = fields.iter().map(|field| format!("{field} (not recorded)"));
    let named: Vec<String> = unknown.chain(checks.iter().map(missing_check)).collect();
    let (count, list) = (named.len(), named.join(", "));
    let noun = if count == 1 { "check" } else { "checks" };
    let step = if fields.is_empty() {
        NextStep {
            check: checks.first().map(|missing| missing.check.clone()),
            ..t.step_in_job(Step::RecordCheck)
        }
    } else {
        t.step_in_job(Step::SetFields)
    };
    Described {
        says: says(t, reason, &format!(" without {count} required {noun}: {list}")),
        next: format!("Do or confirm what is missing on the trailer, record it, then sign off again: {list}."),
        step,
    }
}

fn missing_check(missing: &MissingCheck) -> String {
    match &missing.why {
        Some(why) => format!("{} (recorded, but {why})", missing.check),
        None => missing.check.clone(),
    }
}

pub(super) fn check_failed(t: &Teller<'_>, reason: &BadSignOff<Vec<FailedCheck>>) -> Described {
    let failed = reason.fault.iter();
    let failed = listed(failed.map(|f| format!("{} ({}){}", f.why, t.author(&f.fact), not_counting(t, f))));
    let (next, step) = match t.finding.severity {
        Severity::Stop => (
            "Put it right on the trailer, record the check again, then sign off again.",
            Step::RepeatCheck,
        ),
        _ => (
            "Ask the office what is to be done; put it right and record the check again, then sign off again. An approval counts only when it is recorded before the cut, by somebody else.",
            Step::AskOffice,
        ),
    };
    Described {
        says: says(t, reason, &format!(" with a failed check: {failed}")),
        next: next.to_owned(),
        step: NextStep {
            check: reason.fault.first().map(|f| f.check.clone()),
            ..t.step_in_job(step)
        },
    }
}

/// `; the approval of mara, recorded on lap-a (…), does not count: mara recorded the value`.
fn not_counting(t: &Teller<'_>, failed: &FailedCheck) -> String {
    let each = failed.not_counting.iter().map(|n| {
        let by = n.approval.by.as_deref().unwrap_or("somebody");
        format!("; the {} does not count: {}", t.approval(&n.approval), flaw(n.flaw, by))
    });
    each.collect()
}

fn flaw(flaw: Flaw, by: &str) -> String {
    match flaw {
        Flaw::Refused => "it does not say yes".to_owned(),
        Flaw::TakenBack => "it was refused beside it or later".to_owned(),
        Flaw::Nobody => "it does not say whose it is".to_owned(),
        Flaw::Unseen => "it was recorded without this value in view".to_owned(),
        Flaw::OwnRecord => format!("nobody but {by} is known to have recorded the value"),
        Flaw::OwnCut => format!("nobody but {by} is known to have cut"),
        Flaw::AfterCut => "it is not before the cut".to_owned(),
    }
}

pub(super) fn changed_after(t: &Teller<'_>, reason: &ChangedPair) -> Described {
    let end = match &reason.resolution {
        Some(resolution) => t.resolution(resolution),
        None => "nobody who knew of that signed the job off again".to_owned(),
    };
    Described {
        says: format!(
            "After job {} was signed off by {}, its pair was changed: {}{}; {end}.",
            t.subject(),
            t.author(&reason.sign_off),
            listed(reason.changes.iter().map(|c| change(t, c))),
            t.knowledge(&reason.knowledge),
        ),
        next: "Check that camera and tracker still work together, take a new proof picture, then sign off again."
            .to_owned(),
        step: t.step_in_job(Step::SignOffAgain),
    }
}

/// `unlink of camera C1 from tracker T1 by …`, `settings live for tracker T1 by …`.
fn change(t: &Teller<'_>, change: &Change) -> String {
    let (by, text) = (t.author(&change.fact), or_unknown);
    match &change.what {
        FactLabel::Link { camera, tracker } => {
            format!("link of camera {} to tracker {} by {by}", text(camera), text(tracker))
        }
        FactLabel::Unlink { camera, tracker } => {
            format!(
                "unlink of camera {} from tracker {} by {by}",
                text(camera),
                text(tracker)
            )
        }
        FactLabel::Settings { tracker, state } => {
            format!("settings {} for tracker {} by {by}", text(state), text(tracker))
        }
        other => format!("{} by {by}", label(other)),
    }
}
