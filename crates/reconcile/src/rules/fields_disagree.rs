//! A job field has concurrent different values.
//!
//! A later fact that had seen both and sets the field again resolves it.
//!
//! Standing: `unaware`. Values of which one was written with the other in view do not disagree: the later one counts.

use std::sync::Arc;

use super::rule::Rule;
use crate::awareness::none_of;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::{Severity, Standing};
use crate::job::JobView;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::job::{DisputedField, DisputedFields, SetValue};
use crate::reason::knowledge::Knowledge;
use crate::recorded_fact::RecordedFact;
use crate::register::{field_value, values};
use crate::subject::Class;
use crate::world::World;

pub(super) struct FieldsDisagree;

impl Rule for FieldsDisagree {
    fn name(&self) -> &'static str {
        "fields-disagree"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn judge(&self, _world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        let fields = job.fields.iter();
        let disputed: Vec<(&String, &Vec<Arc<RecordedFact>>)> = fields
            .filter(|(field, holders)| values(holders, field).len() >= 2)
            .collect();
        let Some((first, first_holders)) = disputed.first() else {
            return cleared(job);
        };
        let knowledge = none_of(&disagreeing(first, first_holders));
        let evidence = disputed.iter().flat_map(|(_, holders)| holders.iter().cloned());
        let fields = disputed.iter().map(|(field, holders)| disputed_field(field, holders));
        Some(draft(job, fields.collect(), knowledge).made_by(evidence))
    }
}

/// Fields that held different values at the same time, and do so no more.
fn cleared(job: &JobView) -> Option<Draft> {
    let mut evidence = Vec::new();
    let mut resolved_by = Vec::new();
    let mut fields = Vec::new();
    let mut knowledge = None;
    for (field, set) in job.all_setters() {
        let disagreed = disagreeing(field, set);
        if disagreed.is_empty() {
            continue;
        }
        knowledge.get_or_insert_with(|| none_of(&disagreed));
        let now = job.fields.get(field).map_or(&[][..], Vec::as_slice);
        fields.push(disputed_field(field, now));
        resolved_by.extend(now.iter().cloned());
        evidence.extend(disagreed);
    }
    Some(draft(job, fields, knowledge?).made_by(evidence).cleared_by(resolved_by))
}

fn draft(job: &JobView, fields: Vec<DisputedField>, knowledge: Knowledge) -> Draft {
    let reason = Reason::FieldsDisagree(DisputedFields { fields, knowledge });
    Draft::new(Severity::Ask, [job.key.clone()], reason).standing(Standing::Unaware)
}

fn disputed_field(field: &str, holders: &[Arc<RecordedFact>]) -> DisputedField {
    let set = |w: &Arc<RecordedFact>| {
        Some(SetValue {
            value: field_value(&w.fact, field)?.shown,
            fact: FactRef::of(w),
        })
    };
    DisputedField {
        field: field.to_owned(),
        values: holders.iter().filter_map(set).collect(),
    }
}

/// The setters that gave the field another value than a setter which they did not know of.
fn disagreeing(field: &str, set: &[Arc<RecordedFact>]) -> Vec<Arc<RecordedFact>> {
    if set.len() < 2 {
        return Vec::new();
    }
    let key = |w: &RecordedFact| field_value(&w.fact, field).map(|v| v.key);
    let keyed: Vec<(&Arc<RecordedFact>, Option<String>)> = set.iter().map(|w| (w, key(w))).collect();
    let disagree = keyed
        .iter()
        .filter(|(a, one)| keyed.iter().any(|(b, other)| one != other && a.concurrent(b)));
    disagree.map(|(w, _)| Arc::clone(w)).collect()
}
