//! A job field has concurrent different values.
//!
//! A later fact that had seen both and sets the field again resolves it.
//!
//! Standing: `unaware`. Values of which one was written with the other in view do not disagree: the later one counts.

use std::sync::Arc;

use super::rule::Rule;
use crate::awareness::apart;
use crate::draft::Draft;
use crate::finding::{Severity, Standing};
use crate::job::JobView;
use crate::recorded_fact::RecordedFact;
use crate::register::{field_value, setters, values};
use crate::subject::Class;
use crate::words::{deed, listed};
use crate::world::{Case, World};

pub(super) struct FieldsDisagree;

impl Rule for FieldsDisagree {
    fn name(&self) -> &'static str {
        "fields-disagree"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        let torn: Vec<(&String, &Vec<Arc<RecordedFact>>)> = job
            .fields
            .iter()
            .filter(|(field, holders)| values(holders, field).len() >= 2)
            .collect();
        if torn.is_empty() {
            return cleared(world, job);
        }
        let each = torn.iter().map(|(field, holders)| describe(world, field, holders));
        let fields = listed(torn.iter().map(|(field, _)| (*field).clone()));
        let draft = Draft::new(Severity::Ask, [job.job.clone()])
            .by(torn.iter().flat_map(|(_, holders)| holders.iter().cloned()))
            .standing(Standing::Unaware);
        Some(draft.open(
            format!(
                "Job {} holds different values: {}{}.",
                job.job,
                listed(each),
                known(world, &torn)
            ),
            format!("Find out which is right and set {fields} of the job again."),
        ))
    }
}

/// That neither of two writers of the first torn field had seen the other's value.
fn known(world: &World<'_>, torn: &[(&String, &Vec<Arc<RecordedFact>>)]) -> String {
    let Some((field, holders)) = torn.first() else {
        return String::new();
    };
    apart(world, disagreeing(field, holders).iter(), "value").map_or_else(String::new, |told| format!("; {told}"))
}

/// `trailer 5312 (mara on lap-1 …) and 5321 (jonas on lap-2 …)`.
fn describe(world: &World<'_>, field: &str, holders: &[Arc<RecordedFact>]) -> String {
    let each = holders.iter().filter_map(|w| {
        let value = field_value(&w.fact, field)?.shown;
        Some(format!("{value} by {}", deed(world, w)))
    });
    format!("{field} is {}", listed(each))
}

/// Fields that once held different values at the same time, and do not any more.
fn cleared(world: &World<'_>, job: &JobView) -> Option<Draft> {
    let mut evidence = Vec::new();
    let mut fields = Vec::new();
    let mut known = String::new();
    for (field, set) in setters(&job.facts) {
        let torn = disagreeing(&field, &set);
        if torn.is_empty() {
            continue;
        }
        if known.is_empty() {
            known = apart(world, &torn, "value").map_or_else(String::new, |told| format!("; {told}"));
        }
        let now = job.fields.get(&field).map_or(&[][..], Vec::as_slice);
        evidence.extend(torn.into_iter().chain(now.iter().cloned()));
        let value = listed(values(now, &field).into_iter().map(|v| v.shown));
        let by = listed(now.iter().map(|w| deed(world, w)));
        fields.push(format!("{field} is now {value} by {by}"));
    }
    if fields.is_empty() {
        return None;
    }
    let draft = Draft::new(Severity::Ask, [job.job.clone()])
        .by(evidence)
        .standing(Standing::Unaware);
    Some(draft.cleared(format!(
        "Job {} held different values for a while{known}; {}.",
        job.job,
        listed(fields)
    )))
}

/// The setters that gave the field another value than a setter which they did not know of.
fn disagreeing(field: &str, set: &[Arc<RecordedFact>]) -> Vec<Arc<RecordedFact>> {
    let key = |w: &RecordedFact| field_value(&w.fact, field).map(|v| v.key);
    let keyed: Vec<(&Arc<RecordedFact>, Option<String>)> = set.iter().map(|w| (w, key(w))).collect();
    let torn = keyed
        .iter()
        .filter(|(a, one)| keyed.iter().any(|(b, other)| one != other && a.concurrent(b)));
    torn.map(|(w, _)| Arc::clone(w)).collect()
}
