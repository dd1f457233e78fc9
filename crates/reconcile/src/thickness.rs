//! The thickness of the wall as one register: the field of a `job` fact and the check of that name set it alike.
//!
//! It holds what the last of them say; several when these were written without knowing of each other. Not here: what a thickness
//! means for the cut or for the required checks.

use std::sync::Arc;

use gladhand_facts::{Dimension, Fact, Kind, Measure};
use gladhand_trade::names::THICKNESS;

use crate::recorded_fact::{RecordedFact, latest};
use crate::register::{field_value, is_value};

/// Whether it sets the thickness: a job fact with the field, or a check of that name.
pub fn sets(recorded: &RecordedFact) -> bool {
    match recorded.fact.kind() {
        Kind::Job => recorded.fact.get(THICKNESS).is_some_and(is_value),
        Kind::Check => recorded.fact.check_name() == Some(THICKNESS),
        _ => false,
    }
}

/// The facts that hold the thickness now: those that set it and that no other such fact follows.
pub fn holders(facts: &[Arc<RecordedFact>]) -> Vec<Arc<RecordedFact>> {
    let setters: Vec<_> = facts.iter().filter(|w| sets(w)).cloned().collect();
    latest(&setters)
}

/// The thickness that such a fact gives; `None` when it cannot be read, or was marked not ok.
pub fn measure(fact: &Fact) -> Option<Measure> {
    let key = if *fact.kind() == Kind::Job { THICKNESS } else { "value" };
    let is_doubted = fact.flag("ok") == Some(false);
    let measure = fact.measure(key).filter(|_| !is_doubted)?;
    (measure.dimension() == Dimension::Length && measure.base() > 0.into()).then_some(measure)
}

/// The different thicknesses that `holders` give, in their order.
pub fn measures(holders: &[Arc<RecordedFact>]) -> Vec<Measure> {
    let mut found: Vec<Measure> = Vec::new();
    for measure in holders.iter().filter_map(|w| measure(&w.fact)) {
        if !found.contains(&measure) {
            found.push(measure);
        }
    }
    found
}

/// The thickness that all of `holders` give; `None` when they give none, several, or one of them cannot be read.
pub fn known(holders: &[Arc<RecordedFact>]) -> Option<Measure> {
    let is_readable = holders.iter().all(|w| measure(&w.fact).is_some());
    match measures(holders).as_slice() {
        [one] if is_readable => Some(*one),
        _ => None,
    }
}

/// What such a fact says, as written.
pub fn shown(fact: &Fact) -> Option<String> {
    if *fact.kind() == Kind::Job {
        return field_value(fact, THICKNESS).map(|value| value.shown);
    }
    let value = fact.measure("value").map(|m| m.to_string());
    value.or_else(|| fact.text("value").map(std::borrow::Cow::into_owned))
}
