//! The fields of a job as multi-value registers.
//!
//! A field holds the values of those job facts that set it and that no later job fact setting it has followed.
//! One value is the usual case; several mean that people wrote concurrently, and all are kept until somebody who
//! has seen them writes again.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use gladhand_facts::canonical;
use gladhand_facts::fact::as_text;
use gladhand_facts::{Fact, Kind, Measure};
use gladhand_trade::names::THICKNESS;
use serde_json::Value;

use crate::recorded_fact::{RecordedFact, compared_by, latest};

/// Belongs to the measure beside it and is no field of its own.
const UNIT: &str = "unit";

/// What a field says: a spelling to show, and a key by which two spellings of one value are equal.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct FieldValue {
    /// Equal for equal values: `3/4 in` and `19.05 mm` are one thickness.
    pub key: String,
    /// As written, trimmed.
    pub shown: String,
}

/// The value of `field` in a job fact; of the thickness also in a check of that name.
pub fn field_value(fact: &Fact, field: &str) -> Option<FieldValue> {
    let of_measure = |measure: Measure| FieldValue {
        key: format!("{:?} {}", measure.dimension(), measure.base()),
        shown: measure.to_string(),
    };
    if *fact.kind() == Kind::Check {
        let is_it = field == THICKNESS && fact.check_name() == Some(THICKNESS);
        if !is_it || fact.flag("ok") == Some(false) {
            return None;
        }
        return fact.measure("value").map(of_measure);
    }
    let value = fact.get(field).filter(|v| !v.is_null())?;
    if field == THICKNESS
        && let Some(measure) = fact.measure(field)
    {
        return Some(of_measure(measure));
    }
    let shown = match as_text(value) {
        Some(text) => text.into_owned(),
        // An empty text says nothing, like a missing one.
        None if value.is_string() => return None,
        None => canonical::to_string(value),
    };
    Some(FieldValue {
        key: compared_by(field, &shown),
        shown,
    })
}

/// Whether [`field_value`] gives a value for a field of a job fact that holds `value`.
pub(crate) fn is_value(value: &Value) -> bool {
    as_text(value).is_some() || !(value.is_null() || value.is_string())
}

/// Every fact that sets a field, by field, in the order given: job facts, and checks of the thickness, which are one register with the
/// field of that name.
pub fn setters(facts: &[Arc<RecordedFact>]) -> BTreeMap<String, Vec<Arc<RecordedFact>>> {
    let mut found: BTreeMap<String, Vec<Arc<RecordedFact>>> = BTreeMap::new();
    for recorded in facts {
        if recorded.is(&Kind::Check) && field_value(&recorded.fact, THICKNESS).is_some() {
            found.entry(THICKNESS.to_owned()).or_default().push(recorded.clone());
        }
        if !recorded.is(&Kind::Job) {
            continue;
        }
        let fields = recorded
            .fact
            .fields()
            .filter(|(name, value)| *name != UNIT && is_value(value));
        for (field, _) in fields {
            match found.get_mut(field) {
                Some(setters) => setters.push(recorded.clone()),
                None => drop(found.insert(field.to_owned(), vec![recorded.clone()])),
            }
        }
    }
    found
}

/// The facts that set one field of a job: as [`setters`] has them.
pub(crate) fn setters_of(facts: &[Arc<RecordedFact>], field: &str) -> Vec<Arc<RecordedFact>> {
    let sets = |w: &&Arc<RecordedFact>| match w.fact.kind() {
        Kind::Check => field_value(&w.fact, field).is_some(),
        Kind::Job => w.fact.get(field).is_some_and(is_value),
        _ => false,
    };
    facts.iter().filter(sets).cloned().collect()
}

/// The current holders of one field of a job: as [`fields`] has them.
pub(crate) fn holders_of(facts: &[Arc<RecordedFact>], field: &str) -> Vec<Arc<RecordedFact>> {
    latest(&setters_of(facts, field))
}

/// The current holders of each field: the job facts that set it and that no other setter follows.
pub fn fields(facts: &[Arc<RecordedFact>]) -> BTreeMap<String, Vec<Arc<RecordedFact>>> {
    holders(setters(facts))
}

/// Of the setters of each field the current holders.
pub(crate) fn holders(setters: BTreeMap<String, Vec<Arc<RecordedFact>>>) -> BTreeMap<String, Vec<Arc<RecordedFact>>> {
    let fields = setters.into_iter();
    fields.map(|(field, set)| (field, latest(&set))).collect()
}

/// The distinct values that `holders` give `field`, ordered by spelling.
pub fn values(holders: &[Arc<RecordedFact>], field: &str) -> Vec<FieldValue> {
    let mut seen = BTreeSet::new();
    let mut found: Vec<FieldValue> = holders
        .iter()
        .filter_map(|w| field_value(&w.fact, field))
        .filter(|v| seen.insert(v.key.clone()))
        .collect();
    found.sort_by(|a, b| a.shown.cmp(&b.shown));
    found
}
