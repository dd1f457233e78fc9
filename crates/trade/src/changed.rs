//! What readings that belong to another wall or load have against an answer.
//!
//! A reading belongs to the wall and load under which it was taken. One that blocked or did not decide under another is
//! outweighed only by everything being probed again, or, on an empty trailer, by somebody who looked inside. No approval
//! outweighs it.

use crate::answer::Answer;
use crate::clearance::decide_now;
use crate::names::SEEN_EMPTY;
use crate::situation::{Observation, Situation};
use crate::standard::Standard;

const EMPTY: &str = "empty";

/// What earlier readings, and any reading on a trailer called empty, have against an answer that is not blocked.
pub(crate) fn objection(standard: &Standard, situation: &Situation, now: &Answer) -> Option<Answer> {
    let is_empty = situation.load.as_deref() == Some(EMPTY);
    let own = is_empty.then_some(situation);
    let against: Vec<(&Situation, Answer)> = own
        .into_iter()
        .chain(&situation.earlier)
        .filter_map(|read| Some((read, no_of_readings(standard, read, situation.wall.as_deref())?)))
        .collect();
    let is_same = |read: &Situation| {
        let same_wall = situation.wall.is_none() || read.wall == situation.wall;
        same_wall && !is_empty
    };
    let same = against.iter().filter(|(read, _)| is_same(read)).map(|(_, no)| no);
    let worst = same.min_by_key(|no| !matches!(no, Answer::Blocked { .. }));
    if let Some(no) = worst {
        return Some(without_approval(no.clone()));
    }
    // An approval is no probing: what blocked under another wall or load goes on blocking beside it.
    let has_blocked = against.iter().any(|(_, no)| matches!(no, Answer::Blocked { .. }));
    let is_by_approval = matches!(
        now,
        Answer::Clear {
            by_approval: Some(_),
            ..
        }
    );
    let is_probed_again = now.is_clear() && !is_empty && !(is_by_approval && has_blocked);
    match against.first() {
        Some((read, no)) if !is_probed_again => Some(changed(situation, read, no, now)),
        _ if is_empty && situation.last(SEEN_EMPTY) == Some(&Observation::Seen(false)) => {
            Some(look_inside(format!("{SEEN_EMPTY} was recorded as not ok")))
        }
        _ => None,
    }
}

/// The no that readings give as readings of a loaded trailer, whatever its thickness and whatever is still missing.
fn no_of_readings(standard: &Standard, read: &Situation, wall_now: Option<&str>) -> Option<Answer> {
    let loaded = Situation {
        wall: read.wall.clone().or(wall_now.map(str::to_owned)),
        load: Some("loaded".to_owned()),
        freight_at_opening: read.freight_at_opening.or(Some(false)),
        readings: read.readings.clone(),
        ..Situation::default()
    };
    Some(decide_now(standard, &loaded)).filter(Answer::is_blocked)
}

fn changed(situation: &Situation, read: &Situation, no: &Answer, now: &Answer) -> Answer {
    let (Answer::Blocked { why, .. } | Answer::NotDecidable { why, .. }) = no else {
        return now.clone();
    };
    let said = |s: &Situation| {
        let each = [&s.wall, &s.load].map(|f| f.as_deref().unwrap_or("not recorded"));
        each.join(", ")
    };
    let (then, since) = (said(read), said(situation));
    if situation.load.as_deref() == Some(EMPTY) {
        return look_inside(format!("{why}, recorded under {then}; the trailer is called empty now"));
    }
    let again = match now {
        Answer::Next { check, .. } => Some(check.clone()),
        Answer::NotDecidable { again, .. } => again.clone(),
        Answer::Unknown { missing } => missing.first().map(|m| (*m).to_owned()),
        _ => None,
    };
    Answer::NotDecidable {
        why: format!("{why}, recorded under {then}, which was changed to {since}; a reading belongs to the wall and load under which it was taken"),
        ask: "probe everything again for the wall and load as they stand now; until then treat the wall as blocked: do not cut".to_owned(),
        again,
        may_approve: false,
    }
}

/// The same answer, to be decided by what is recorded on the trailer and by nobody's approval.
fn without_approval(no: Answer) -> Answer {
    match no {
        Answer::NotDecidable { why, ask, again, .. } => Answer::NotDecidable {
            why,
            ask,
            again,
            may_approve: false,
        },
        other => other,
    }
}

fn look_inside(why: String) -> Answer {
    Answer::NotDecidable {
        why,
        ask: format!(
            "look inside; where the trailer is empty record {SEEN_EMPTY}, where it is not set the load right; until then do not cut"
        ),
        again: Some(SEEN_EMPTY.to_owned()),
        may_approve: false,
    }
}
