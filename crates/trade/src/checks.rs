//! Judges one check fact against one requirement of the standard.
//!
//! Any sign that something is wrong decides: `ok: false`, an answer of no, or a value outside the band, even with
//! `ok: true`. What cannot be read does not pass. Measures are compared exactly and are not widened: the tolerance is
//! the allowance. (The clearance widens probe readings by their uncertainty.)
//!
//! Not here: which fact is the latest. The caller has the logs and passes the fact in.

use gladhand_facts::fact::as_text;
use gladhand_facts::{Dimension, Fact, Measure};

use crate::band::{Band, Side};
use crate::requirement::{Requirement, Wants};
use crate::situation::{Observation, cannot_be_seen, yes_or_no};

/// The judgement of a check fact.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// It is as the standard requires.
    Passes,
    /// It is not as the standard requires.
    Fails {
        /// Why, in one sentence.
        why: String,
    },
    /// The fact does not say what is needed, so it counts neither way.
    Unreadable {
        /// Why, in one sentence, and what to record instead.
        why: String,
    },
}

impl Verdict {
    /// Whether it passes.
    pub fn passes(&self) -> bool {
        *self == Self::Passes
    }

    /// The reason, where it does not pass.
    pub fn why(&self) -> Option<&str> {
        match self {
            Self::Passes => None,
            Self::Fails { why } | Self::Unreadable { why } => Some(why),
        }
    }
}

/// Judges `fact`, a check of the requirement's name.
pub fn verdict(requirement: &Requirement, fact: &Fact) -> Verdict {
    let name = requirement.name();
    if let Some(verdict) = refusal(name, fact) {
        return verdict;
    }
    match requirement.wants() {
        Wants::Seen => seen(name, fact),
        Wants::Measure(band) | Wants::Wait { band, .. } => measured(requirement, band, fact),
        Wants::Answers(wanted) => answered(name, wanted, fact),
        Wants::Reading => match Observation::of(fact) {
            Observation::Unreadable(why) => unreadable(format!("{name} {why}")),
            _ => Verdict::Passes,
        },
        Wants::YesOrNo if yes_or_no(fact).is_some() || cannot_be_seen(fact) => Verdict::Passes,
        Wants::YesOrNo => unreadable(format!("{name} needs a value of yes or no, or cannot-be-seen")),
    }
}

/// What decides against a fact, whatever else it says.
fn refusal(name: &str, fact: &Fact) -> Option<Verdict> {
    if let Some((answer, _)) = fact.answers().find(|(_, yes)| !yes) {
        return Some(fails(format!("{name}: {answer} was answered no")));
    }
    match fact.get("ok") {
        Some(ok) if ok.as_bool() == Some(false) => Some(fails(format!("{name} was recorded as not ok"))),
        Some(ok) if !ok.is_boolean() && !ok.is_null() => Some(unreadable(format!(
            "{name} has an `ok` that is neither true nor false: {ok}"
        ))),
        _ => None,
    }
}

fn seen(name: &str, fact: &Fact) -> Verdict {
    let ok = fact.flag("ok") == Some(true);
    match (yes_or_no(fact), has_value(fact)) {
        (Some(false), _) => fails(format!("{name} was recorded as: no")),
        (Some(true), _) => Verdict::Passes,
        (None, _) if ok || fact.answers().next().is_some() => Verdict::Passes,
        (None, true) => unreadable(format!(
            "{name} is a yes or a no; record ok true or false beside the value"
        )),
        (None, false) => unreadable(format!("{name} says neither ok true nor ok false")),
    }
}

fn measured(requirement: &Requirement, band: &Band, fact: &Fact) -> Verdict {
    let name = requirement.name();
    let ok = fact.flag("ok") == Some(true) || yes_or_no(fact) == Some(true);
    let Some(measure) = fact.measure("value") else {
        return match yes_or_no(fact) {
            Some(false) => fails(format!("{name} was recorded as: no")),
            _ if ok && requirement.ok_is_enough() => Verdict::Passes,
            _ => unreadable(format!(
                "{name} has no value that can be read; record {}",
                example(band)
            )),
        };
    };
    in_band(name, band, &measure)
}

/// Judges a measure that was recorded elsewhere than in a check, such as a field of a job; `None`: it cannot be read.
pub fn verdict_on(requirement: &Requirement, measure: Option<Measure>) -> Verdict {
    let name = requirement.name();
    let (Wants::Measure(band) | Wants::Wait { band, .. }) = requirement.wants() else {
        return unreadable(format!("{name} is no measure in this work standard"));
    };
    match measure {
        Some(measure) => in_band(name, band, &measure),
        None => unreadable(format!(
            "{name} has no value that can be read; record {}",
            example(band)
        )),
    }
}

fn in_band(name: &str, band: &Band, measure: &Measure) -> Verdict {
    match band.side(measure) {
        None => unreadable(format!(
            "{name} is {measure}, but {} is wanted",
            dimension_name(band.dimension())
        )),
        Some(Side::Inside) => Verdict::Passes,
        Some(_) => fails(format!("{name} is {measure}; the work standard wants {band}")),
    }
}

fn answered(name: &str, wanted: &[String], fact: &Fact) -> Verdict {
    let given = |wanted: &str| fact.answers().any(|(answer, _)| answer == wanted);
    match wanted.iter().find(|w| !given(w)) {
        Some(missing) => unreadable(format!("{name} has no answer to {missing}")),
        None => Verdict::Passes,
    }
}

/// Judges a waiting time that was not recorded as a value, from the times of the two facts that begin and end it.
///
/// `uncertainty_us` is how far the difference may be off: 0 when one clock gave both times, otherwise what the
/// caller knows about the two clocks. A difference that may be on either side of the limit is unreadable.
pub fn wait_verdict(requirement: &Requirement, from: &Fact, to: &Fact, uncertainty_us: i64) -> Verdict {
    let Wants::Wait { band, .. } = requirement.wants() else {
        return unreadable(format!("{} is not a waiting time", requirement.name()));
    };
    let name = requirement.name();
    if let Some(bad) = [from, to].into_iter().find_map(|f| refusal(name, f)) {
        return bad;
    }
    let (Some(start_us), Some(end_us)) = (time_us(from), time_us(to)) else {
        return unreadable(format!("{name}: one of the two checks has no time"));
    };
    let waited_us = i128::from(end_us) - i128::from(start_us);
    let slack_us = i128::from(uncertainty_us.max(0));
    let seconds = |us: i128| gladhand_facts::measure::Exact::new(us, 1_000_000);
    let (low, high) = (seconds(waited_us - slack_us), seconds(waited_us + slack_us));
    let shown = Measure::of_seconds(seconds(waited_us));
    if band.holds_all(low, high) {
        Verdict::Passes
    } else if band.touches(low, high) {
        unreadable(format!(
            "{name} is about {shown}; the clocks are too uncertain to say whether that is {band}"
        ))
    } else {
        fails(format!("{name} is {shown}; the work standard wants {band}"))
    }
}

/// The time that a check records: its `value` when that is a time, otherwise when it happened.
fn time_us(fact: &Fact) -> Option<i64> {
    fact.moment("value").or_else(|| fact.at()).map(|m| m.unix_us())
}

fn has_value(fact: &Fact) -> bool {
    fact.get("value").is_some_and(|v| as_text(v).is_some() || v.is_number())
}

fn example(band: &Band) -> String {
    format!("{} ({band})", dimension_name(band.dimension()))
}

fn dimension_name(dimension: Dimension) -> &'static str {
    match dimension {
        Dimension::Length => "a length with its unit",
        Dimension::Torque => "a torque with its unit",
        Dimension::Time => "a time with its unit",
        Dimension::Temperature => "a temperature with its unit",
        Dimension::Count => "a count without a unit",
    }
}

fn fails(why: String) -> Verdict {
    Verdict::Fails { why }
}

fn unreadable(why: String) -> Verdict {
    Verdict::Unreadable { why }
}

#[cfg(test)]
#[path = "checks_tests.rs"]
mod tests;
