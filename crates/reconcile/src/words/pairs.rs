//! Sentences about the pair that a job was signed for.

use crate::finding::Severity;
use crate::reason::sign_off::{BadSignOff, FailedSince, Failure, ForeignProof, OtherPair, ProofStep};
use crate::words::described::{Described, NextStep, Step};
use crate::words::phrases::{label, listed};
use crate::words::sign_offs::{pair, says};
use crate::words::teller::Teller;

pub(super) fn planned_not_linked(t: &Teller<'_>, reason: &BadSignOff<OtherPair>) -> Described {
    let OtherPair {
        linked,
        cameras,
        trackers,
    } = &reason.fault;
    let named = [("camera", cameras), ("tracker", trackers)].into_iter();
    let named = named.filter(|(_, codes)| !codes.is_empty());
    let named = listed(named.map(|(part, codes)| format!("{part} {}", listed(codes))));
    let linked_list = listed(linked.iter().map(|l| pair(t, l)));
    Described {
        says: says(
            t,
            reason,
            &format!(" with another pair than it names: it names {named}, linked is {linked_list}"),
        ),
        next: "Read both labels on the trailer. Correct the job's camera or tracker, or the link, then sign off again."
            .to_owned(),
        step: NextStep {
            camera: linked.first().map(|l| l.camera.clone()),
            tracker: linked.first().map(|l| l.tracker.clone()),
            ..t.ruling_in_job(Step::ComparePair)
        },
    }
}

pub(super) fn proof_of_another_pair(t: &Teller<'_>, reason: &BadSignOff<ForeignProof>) -> Described {
    let ForeignProof { pair: link, steps } = &reason.fault;
    let list = listed(steps.iter().map(|s| step(t, s)));
    let link = pair(t, link);
    let (fault, next, step) = match t.finding.severity {
        Severity::Stop => (
            format!(" by a picture of before the link of {link}: {list}"),
            "The picture does not show what this pair sees: request a new one, judge it, then sign off again.",
            t.step_in_job(Step::RequestProof),
        ),
        _ => (
            format!(", and it cannot be told whether its picture is of after the link of {link}: {list}"),
            "Compare the times on the server; if in doubt request a new picture, judge it, then sign off again.",
            t.ruling_in_job(Step::CompareProofTime),
        ),
    };
    Described {
        says: says(t, reason, &fault),
        next: next.to_owned(),
        step,
    }
}

/// `asked for by …`.
fn step(t: &Teller<'_>, step: &ProofStep) -> String {
    let word = match step.step.as_str() {
        "asked" => "asked for",
        other => other,
    };
    format!("{word} by {}", t.author(&step.fact))
}

pub(super) fn failed_after_sign_off(t: &Teller<'_>, reason: &BadSignOff<FailedSince>) -> Described {
    let list = listed(reason.fault.failures.iter().map(|f| failure(t, f)));
    Described {
        says: says(t, reason, &format!("; not before that it failed: {list}")),
        next: "Do not rely on the camera. Put it right on the trailer, record that, take a new proof picture, then sign off again."
            .to_owned(),
        step: t.step_in_job(Step::SignOffAgain),
    }
}

/// `the judgement of the picture in job J1 (not good) by …`.
fn failure(t: &Teller<'_>, failure: &Failure) -> String {
    let why = failure
        .why
        .as_deref()
        .map(|why| format!(" ({why})"))
        .unwrap_or_default();
    format!("{}{why} by {}", label(&failure.what), t.author(&failure.fact))
}
