//! Sentences about proof pictures.

use crate::finding::Severity;
use crate::reason::proof::{ContradictoryProof, OldProof};
use crate::words::described::{Described, Step};
use crate::words::phrases::{listed, when};
use crate::words::teller::Teller;

pub(super) fn older_than_request(t: &Teller<'_>, reason: &OldProof) -> Described {
    let judged = t.author(&reason.judged);
    let taken = reason.taken_at.as_ref().map(when).unwrap_or_default();
    let requested = t.authors(&reason.requests);
    let (how, next, step) = match t.finding.severity {
        Severity::Stop => (
            format!("before it was requested by {requested}"),
            "This picture does not show the finished work: request a new one and judge that.",
            t.step_in_job(Step::RequestProof),
        ),
        _ => (
            format!("and it cannot be told whether that was after the request by {requested}"),
            "Compare both times on the server; if in doubt request a new picture and judge that.",
            t.ruling_in_job(Step::CompareProofTime),
        ),
    };
    let end = if t.is_cleared() {
        "; a newer picture was judged since."
    } else {
        "."
    };
    let known = t.knowledge(&reason.knowledge);
    Described {
        says: format!(
            "The picture of job {} judged by {judged} was taken at {taken}, {how}{known}{end}",
            t.subject()
        ),
        next: next.to_owned(),
        step,
    }
}

pub(super) fn answers_disagree(t: &Teller<'_>, reason: &ContradictoryProof) -> Described {
    let no = reason.answered_no.iter();
    let no = no.map(|answer| format!("{answer} was answered no"));
    let missing = reason.unanswered.iter();
    let missing = missing.map(|answer| format!("{answer} was not answered"));
    let end = if t.is_cleared() {
        format!("; it was judged again since by {}.", t.authors(&reason.judged_again))
    } else {
        ".".to_owned()
    };
    Described {
        says: format!(
            "The picture of job {} was judged good by {}, although {}{end}",
            t.subject(),
            t.author(&reason.judged),
            listed(no.chain(missing)),
        ),
        next:
            "Look at the picture again and judge it once more with every answer; where one is no, the fit is not proven."
                .to_owned(),
        step: t.step_in_job(Step::JudgeProof),
    }
}
