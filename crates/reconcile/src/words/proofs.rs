//! Sentences about proof pictures.

use crate::finding::Severity;
use crate::reason::proof::{
    BareProof, ContradictoryProof, HastyProof, NoPicture, OldProof, PictureUse, SharedPicture, TooLate,
};
use crate::words::described::{Described, NextStep, Step};
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

pub(super) fn out_of_order(t: &Teller<'_>, reason: &HastyProof) -> Described {
    let late = reason.too_late.iter().map(|(what, facts)| {
        let what = match what {
            TooLate::Settings => "the settings were live",
            TooLate::Doors => "the doors were closed",
        };
        format!("{what}, recorded by {}", t.authors(facts))
    });
    let (requested, judged) = (t.authors(&reason.requests), t.author(&reason.judged));
    let known = t.knowledge(&reason.knowledge);
    Described {
        says: format!(
            "The picture of job {} judged by {judged} was asked for by {requested}, before {}{known}.",
            t.subject(),
            listed(late)
        ),
        next: "Request a new picture with live settings and closed doors, judge it, then sign off again.".to_owned(),
        step: t.ruling_in_job(Step::RequestProof),
    }
}

pub(super) fn without_picture(t: &Teller<'_>, reason: &BareProof) -> Described {
    let why = match &reason.why {
        NoPicture::NotNamed => "no picture is named".to_owned(),
        NoPicture::Absent(name) => format!("the picture {name} was not there when it was recorded"),
        NoPicture::Unreadable(name) => format!("{name} is no picture that can be read"),
    };
    let end = if t.is_cleared() {
        format!("; it was judged again since by {}.", t.authors(&reason.judged_again))
    } else {
        ".".to_owned()
    };
    Described {
        says: format!(
            "The proof of job {} was judged good by {}, but {why}{end}",
            t.subject(),
            t.author(&reason.judged)
        ),
        next: "Get the picture from the server and judge it again with the picture named.".to_owned(),
        step: t.step_in_job(Step::NamePicture),
    }
}

pub(super) fn picture_used_twice(t: &Teller<'_>, reason: &SharedPicture) -> Described {
    let list = listed(reason.uses.iter().map(|u| picture_use(t, u)));
    let known = t.knowledge_of(&reason.knowledge, "judgement");
    let end = if t.is_cleared() {
        "; every trailer was proven again since with another picture."
    } else {
        "."
    };
    let picture: String = t.subject().chars().take(12).collect();
    Described {
        says: format!("Picture {picture} stands for more than one proof: {list}{known}{end}"),
        next: "One of these trailers was not proven: request a new picture for each of them and judge it.".to_owned(),
        step: NextStep {
            job: reason.uses.first().map(|u| u.job.clone()),
            ..NextStep::new(Step::RequestProof)
        },
    }
}

/// `job J1 (trailer LF 5396) by …`.
fn picture_use(t: &Teller<'_>, used: &PictureUse) -> String {
    let by = t.author(&used.judged);
    if used.trailers.is_empty() {
        format!("job {} by {by}", used.job)
    } else {
        format!("job {} (trailer {}) by {by}", used.job, listed(&used.trailers))
    }
}
