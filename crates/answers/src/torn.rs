//! Fields of a job that people wrote differently without knowing of each other, as far as the clearance depends on them.

use std::sync::Arc;

use gladhand_reconcile::register::{field_value, values};
use gladhand_reconcile::{JobView, RecordedFact, thickness};
use gladhand_trade::names::THICKNESS;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::deed::Deed;
use crate::judging::JudgingContext;
use crate::text::deed::deed;

/// The fields of a job that the clearance depends on.
pub const FIELDS: [&str; 3] = ["wall", "load", THICKNESS];

/// A field that was written differently by people who did not know of each other.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Torn {
    /// The field.
    pub field: String,
    /// Its values, and who wrote them.
    pub values: Vec<Said>,
}

/// A value and who wrote it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Said {
    /// The value.
    pub value: String,
    /// Who, on which device, when, in words.
    pub by: String,
}

impl Torn {
    /// `wall is plate by mara on lap-1 and sheet-and-post by jonas on lap-2`.
    pub(crate) fn sentence(&self) -> String {
        let each: Vec<String> = self.values.iter().map(|s| format!("{} by {}", s.value, s.by)).collect();
        format!("{} is {}", self.field, each.join(" and "))
    }
}

/// Those of [`FIELDS`] that hold several values.
pub(crate) fn torn(judging: &JudgingContext<'_>, job: &JobView) -> Vec<Torn> {
    FIELDS
        .iter()
        .filter_map(|field| torn_field(judging, job, field))
        .collect()
}

fn torn_field(judging: &JudgingContext<'_>, job: &JobView, field: &str) -> Option<Torn> {
    let is_thickness = field == THICKNESS;
    let holders = if is_thickness {
        thickness::holders(&job.facts)
    } else {
        job.fields.get(field).cloned().unwrap_or_default()
    };
    let count = if is_thickness {
        thickness::measures(&holders).len()
    } else {
        values(&holders, field).len()
    };
    let shown = |w: &Arc<RecordedFact>| {
        if is_thickness {
            thickness::shown(&w.fact)
        } else {
            field_value(&w.fact, field).map(|value| value.shown)
        }
    };
    let said = |w: &Arc<RecordedFact>| {
        Some(Said {
            value: shown(w)?,
            by: deed(&Deed::of(judging, w)),
        })
    };
    (count > 1).then(|| Torn {
        field: field.to_owned(),
        values: holders.iter().filter_map(said).collect(),
    })
}
