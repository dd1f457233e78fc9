//! What the readings of one probe mean by its table, taken together.
//!
//! How a single reading is judged stands in [`crate::clearance`]. Not here: which probe comes next.

use gladhand_facts::Measure;

use crate::names::SECOND_HOLE_ENTERED;
use crate::situation::{Observation, Situation};
use crate::standard::Standard;
use crate::table::{Meaning, Probe, TableRow};

/// The judgement of a probe's readings, from the best to the worst.
pub(crate) enum Outcome {
    Clear,
    Next,
    Missed(String),
    Undecidable(String),
    Blocked(String),
}

/// Whether a probe entered the hole in the liner.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Entered {
    /// It did, or the table does not ask.
    Yes,
    /// Nobody has said so of the last probe.
    NotRecorded,
    /// It did not, and nobody has probed since.
    Denied,
}

/// What was said of the hole in the liner since a probe last missed it. After a denial only a new probe can enter it.
pub(crate) fn entered(standard: &Standard, probe: &Probe, situation: &Situation) -> Entered {
    if probe.enters.is_none() {
        return Entered::Yes;
    }
    situation.readings.iter().fold(Entered::NotRecorded, |known, reading| {
        let is_probe = reading.check == probe.check;
        match &reading.observed {
            observed if is_probe => match judge(standard, probe, observed) {
                Outcome::Missed(_) => Entered::NotRecorded,
                _ if known == Entered::Denied => Entered::NotRecorded,
                _ => known,
            },
            Observation::Seen(false) if reading.check == SECOND_HOLE_ENTERED => Entered::Denied,
            Observation::Seen(true) if reading.check == SECOND_HOLE_ENTERED && known != Entered::Denied => Entered::Yes,
            _ => known,
        }
    })
}

/// The worst of all readings of a probe; `None` when there is none. A reading that could not be read, was marked not ok, or
/// missed its hole counts only if none replaces it, unless it blocks.
pub(crate) fn outcome(standard: &Standard, probe: &Probe, situation: &Situation) -> Option<Outcome> {
    let mut worst: Option<Outcome> = None;
    let mut all = situation.readings.iter().filter(|r| r.check == probe.check).peekable();
    while let Some(reading) = all.next() {
        let this = judge(standard, probe, &reading.observed);
        let may_go = reading.observed.is_doubtful() || matches!(this, Outcome::Missed(_));
        let is_replaced = may_go && !reading.stands && all.peek().is_some();
        if is_replaced && !matches!(this, Outcome::Blocked(_)) {
            continue;
        }
        if worst.as_ref().is_none_or(|w| rank(&this) > rank(w)) {
            worst = Some(this);
        }
    }
    worst
}

fn rank(outcome: &Outcome) -> u8 {
    match outcome {
        Outcome::Clear => 0,
        Outcome::Next => 1,
        Outcome::Missed(_) => 2,
        Outcome::Undecidable(_) => 3,
        Outcome::Blocked(_) => 4,
    }
}

fn judge(standard: &Standard, probe: &Probe, observed: &Observation) -> Outcome {
    let name = &probe.check;
    match observed {
        Observation::At { depth, doubted, .. } => match judge_depth(standard, probe, observed, depth) {
            Outcome::Clear | Outcome::Next | Outcome::Missed(_) if *doubted => {
                Outcome::Undecidable(format!("{name} is {depth}, but was marked not ok"))
            }
            outcome => outcome,
        },
        Observation::Free => match probe.rows.last().filter(|row| row.band.is_open_above()) {
            Some(row) => meaning(name, "free", &row.meaning),
            None => Outcome::Undecidable(format!(
                "{name} ran free, and the work standard does not say what that means"
            )),
        },
        Observation::Unreadable(why) => Outcome::Undecidable(format!("{name} {why}")),
        Observation::Seen(_) => Outcome::Undecidable(format!("{name} has no depth")),
    }
}

fn judge_depth(standard: &Standard, probe: &Probe, observed: &Observation, depth: &Measure) -> Outcome {
    let name = &probe.check;
    let Some((low, high)) = observed.span(standard.tables().uncertainty) else {
        return Outcome::Undecidable(format!("{name} is {depth}, which is no depth"));
    };
    let touches = |row: &&TableRow| row.band.touches(low, high);
    let goes_on = |row: &TableRow| matches!(row.meaning, Meaning::Clear | Meaning::Next);
    // A band of one depth is a place where a probe stops: whatever may be that depth is there.
    let stops = probe.rows.iter().filter(touches).find(|row| row.band.is_point());
    if let Some(row) = stops
        && !probe.rows.iter().filter(touches).any(goes_on)
    {
        return meaning(name, &depth.to_string(), &row.meaning);
    }
    let Some(row) = probe.rows.iter().find(|row| row.band.holds(depth)) else {
        return Outcome::Undecidable(format!("{name} is {depth}, which lies between two answers"));
    };
    let sure = match row.meaning {
        // A reading that blocks stays so, unless within its uncertainty it could be one that does not block.
        Meaning::Blocked(_) => {
            let is_other = |row: &TableRow| !matches!(row.meaning, Meaning::Blocked(_));
            !probe.rows.iter().filter(touches).any(is_other)
        }
        _ => row.band.holds_all(low, high),
    };
    if sure {
        meaning(name, &depth.to_string(), &row.meaning)
    } else {
        Outcome::Undecidable(format!(
            "{name} is {depth}, too near to another answer for a reading of its accuracy"
        ))
    }
}

fn meaning(name: &str, read: &str, meaning: &Meaning) -> Outcome {
    match meaning {
        Meaning::Clear => Outcome::Clear,
        Meaning::Next => Outcome::Next,
        Meaning::Missed(why) => Outcome::Missed(format!("{name} is {read}: {why}")),
        Meaning::Blocked(why) => Outcome::Blocked(format!("{name} is {read}: {why}")),
    }
}
