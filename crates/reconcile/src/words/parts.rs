//! Sentences about cameras, trackers and their codes.

use crate::reason::part::{
    CodeDoubt, CodeRole, DoubleLink, ForeignPart, ForeignParts, SuspectCode, Suspicion, UnknownPart,
};
use crate::subject::Class;
use crate::words::described::{Described, NextStep, Step};
use crate::words::phrases::{capital, listed};
use crate::words::teller::Teller;

pub(super) fn camera_on_two_trackers(t: &Teller<'_>, reason: &DoubleLink) -> Described {
    let step = NextStep {
        camera: Some(t.subject()),
        ..NextStep::new(Step::Unlink)
    };
    double_link(t, reason, ["camera", "tracker"], step)
}

pub(super) fn tracker_with_two_cameras(t: &Teller<'_>, reason: &DoubleLink) -> Described {
    let step = NextStep {
        tracker: Some(t.subject()),
        ..NextStep::new(Step::Unlink)
    };
    double_link(t, reason, ["tracker", "camera"], step)
}

fn double_link(t: &Teller<'_>, reason: &DoubleLink, [this, other]: [&str; 2], step: NextStep) -> Described {
    let (code, this_part) = (t.subject(), capital(this));
    let links = reason.links.iter();
    let links = listed(links.map(|l| format!("{} by {}", l.code, t.author(&l.link))));
    let known = t.knowledge_of(&reason.knowledge, "link");
    let says = if t.is_cleared() {
        format!("{this_part} {code} was linked to {other}s {links} at once{known}; an unlink has put that right since.")
    } else {
        format!("{this_part} {code} is linked to {other}s {links}{known}.")
    };
    let next = format!(
        "Look at the trailer: which {other} does {this} {code} really belong to? Record an unlink for each link that is wrong."
    );
    Described { says, next, step }
}

pub(super) fn wrong_fleet(t: &Teller<'_>, reason: &ForeignParts) -> Described {
    let parts = listed(reason.parts.iter().map(|part| foreign_part(t, part)));
    let body = format!(
        "Job {} is for {}, but {parts}{}",
        t.subject(),
        listed(&reason.fleets),
        t.knowledge(&reason.knowledge)
    );
    let end = if t.is_cleared() {
        "; that has been put right since."
    } else {
        "."
    };
    let first = reason.parts.first();
    Described {
        says: format!("{body}{end}"),
        next: "Ask the depot whose part it is; replace the part, or correct the stock list or the job's fleet."
            .to_owned(),
        step: NextStep {
            camera: first.and_then(|part| code_of(Class::Camera, part)),
            tracker: first.and_then(|part| code_of(Class::Tracker, part)),
            ..t.step_in_job(Step::ReplacePart)
        },
    }
}

/// The code of a part of this class.
fn code_of(class: Class, part: &ForeignPart) -> Option<String> {
    (part.part.class() == class).then(|| part.code.clone())
}

/// `camera C1, linked by …, is in stock for Harrow Haulage`.
fn foreign_part(t: &Teller<'_>, part: &ForeignPart) -> String {
    let (linked, owners) = (t.author(&part.link), listed(&part.owners));
    let class = part.part.class().name();
    format!("{class} {}, linked by {linked}, is in stock for {owners}", part.code)
}

pub(super) fn unknown_part(t: &Teller<'_>, reason: &UnknownPart) -> Described {
    let (code, role) = (t.subject(), reason.role.key());
    let linked = t.authors(&reason.links);
    let why = if reason.listed_otherwise.is_empty() {
        format!("stands in no list of {role}s")
    } else {
        format!("is listed as something else by {}", t.authors(&reason.listed_otherwise))
    };
    let known = t.knowledge(&reason.knowledge);
    let is = |wanted| reason.role == wanted;
    Described {
        says: format!("Code {code}, linked as a {role} by {linked}, {why}{known}."),
        next:
            "Read the label again. If the code is wrong, correct the link; if it is right, have it put into the list."
                .to_owned(),
        step: NextStep {
            camera: is(CodeRole::Camera).then(|| code.clone()),
            tracker: is(CodeRole::Tracker).then(|| code.clone()),
            finding: Some(t.finding.id.clone()),
            ..NextStep::new(Step::ReadLabel)
        },
    }
}

pub(super) fn code_suspect(t: &Teller<'_>, reason: &SuspectCode) -> Described {
    let code = t.subject();
    let body = format!(
        "Code {code}, recorded by {}, {}{}",
        t.authors(&reason.used_by),
        listed(reason.doubts.iter().map(doubt)),
        t.knowledge(&reason.knowledge)
    );
    let says = if t.is_cleared() {
        format!("{body}; put right since by {}.", t.authors(&reason.resolved_by))
    } else {
        format!("{body}.")
    };
    let is = |role| reason.doubts.first().is_some_and(|d| d.role == role);
    Described {
        says,
        next: "Read the label again. If the code is wrong, record it anew; if it is right, rule on it or have it put into the stock list."
            .to_owned(),
        step: NextStep {
            camera: is(CodeRole::Camera).then(|| code.clone()),
            tracker: is(CodeRole::Tracker).then(|| code.clone()),
            finding: Some(t.finding.id.clone()),
            ..NextStep::new(Step::ReadLabel)
        },
    }
}

fn doubt(doubt: &CodeDoubt) -> String {
    let role = doubt.role.key();
    match &doubt.suspicion {
        Suspicion::CheckCharacter { why } => format!("as a {role} {why}"),
        Suspicion::NearListed(codes) => {
            let codes = listed(codes);
            format!("as a {role} is not in the stock list, but {codes} is, one character away")
        }
    }
}
