//! Sentences about holes in the wall.

use gladhand_trade::names::PILOT_SEALED;

use crate::reason::wall::{NoCut, NotClear, OpenPilotHole, TakenBack, UnclearedCut, WithdrawnReadings};
use crate::words::described::{Described, NextStep, Step};
use crate::words::phrases::listed;
use crate::words::teller::Teller;

pub(super) fn cut_without_clearance(t: &Teller<'_>, reason: &UnclearedCut) -> Described {
    let end = if t.is_cleared() {
        let by = t.authors(&reason.empty_by);
        format!("; the trailer was empty after all, says {by}.")
    } else {
        ".".to_owned()
    };
    Described {
        says: format!(
            "The camera hole of job {} was cut by {} on a loaded trailer, when the clearance was {}{}{end}",
            t.subject(),
            t.author(&reason.cut),
            answer(&reason.answer),
            t.knowledge(&reason.knowledge),
        ),
        next: "Look behind the wall for damaged freight, tell the office and the customer, and rule on it with what was found."
            .to_owned(),
        step: t.ruling_in_job(Step::LookBehindWall),
    }
}

fn answer(answer: &NotClear) -> String {
    match answer {
        NotClear::Blocked { why } => format!("blocked: {why}"),
        NotClear::NotDecidable { why } => format!("not decidable: {why}"),
        NotClear::Next { check } => format!("not there yet: {check} was still to be recorded"),
        NotClear::Unknown { missing } => format!("not there yet: {} was not recorded", listed(missing)),
    }
}

pub(super) fn pilot_hole_left_open(t: &Teller<'_>, reason: &OpenPilotHole) -> Described {
    let cause = match &reason.cause {
        NoCut::StoodDown(by) => format!("the job was stood down by {}", t.authors(by)),
        NoCut::Blocked { why } => format!("the wall is blocked: {why}"),
        NoCut::NotDecidable { why } => format!("the readings do not clear the wall: {why}"),
    };
    let end = if t.is_cleared() {
        format!("it was sealed by {}", t.authors(&reason.sealed_by))
    } else {
        "no later check says that it was sealed".to_owned()
    };
    Described {
        says: format!(
            "Job {} has a pilot hole, made by {}, and {cause}{}; {end}.",
            t.subject(),
            t.author(&reason.pilot),
            t.knowledge(&reason.knowledge),
        ),
        next: "Go back to the trailer, seal the pilot hole and record pilot-sealed.".to_owned(),
        step: NextStep {
            check: Some(PILOT_SEALED.to_owned()),
            ..t.step_in_job(Step::SealPilotHole)
        },
    }
}

pub(super) fn reading_withdrawn(t: &Teller<'_>, reason: &WithdrawnReadings) -> Described {
    let list = listed(reason.readings.iter().map(|r| taken_back(t, r)));
    let waits = reason.readings.iter().find(|r| !r.counts);
    let (next, step) = match waits {
        Some(_) => (
            "Until somebody else approves the withdrawal what was taken back stays in force: ask the office.",
            t.step_in_job(Step::Approve),
        ),
        None => (
            "Nothing to do, unless the reason does not convince: then ask the office.",
            t.ruling_in_job(Step::AskOffice),
        ),
    };
    Described {
        says: format!("In job {} something was taken back: {list}.", t.subject()),
        next: next.to_owned(),
        step: NextStep {
            check: waits.or(reason.readings.first()).map(|r| r.check.clone()),
            ..step
        },
    }
}

/// `probe-first of mara on lap-1 (…) by mara on lap-1 (…), because: …, with the approval of ida, recorded on depot (…)`.
fn taken_back(t: &Teller<'_>, r: &TakenBack) -> String {
    let approved = match (&r.approved_by, r.counts) {
        (Some(by), _) => format!(", with the {}", t.approval(by)),
        (None, false) => ", which nobody else has approved, so that it stays in force".to_owned(),
        (None, true) => String::new(),
    };
    let (reading, by) = (t.author(&r.reading), t.author(&r.by));
    format!("{} of {reading} by {by}, because: {}{approved}", r.check, r.why)
}
