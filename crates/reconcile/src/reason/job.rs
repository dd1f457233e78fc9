//! Reasons about jobs, their fields and their trailers.

use serde::{Deserialize, Serialize};

use crate::reason::fact_ref::FactRef;
use crate::reason::knowledge::Knowledge;

/// Several jobs are, or were, open on one trailer.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct SharedTrailer {
    /// The jobs.
    pub jobs: Vec<OpenedJob>,
    /// Whether those who put the jobs on the trailer could have known.
    pub knowledge: Knowledge,
    /// The stand-downs of these jobs; they are named when the finding is cleared.
    pub stood_down_by: Vec<FactRef>,
}

/// A job and the facts that opened it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct OpenedJob {
    /// Its name.
    pub job: String,
    /// The facts that opened it.
    pub opened_by: Vec<FactRef>,
}

/// Fields of a job have, or had, different values at the same time.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct DisputedFields {
    /// The fields; at least one.
    pub fields: Vec<DisputedField>,
    /// The logs whose values of the first field disagreed.
    pub knowledge: Knowledge,
}

/// A field with the facts that hold it now.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct DisputedField {
    /// Its name.
    pub field: String,
    /// What it says now. While it is disputed these differ; afterwards they are spellings of one value.
    pub values: Vec<SetValue>,
}

/// A value and the fact that set it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct SetValue {
    /// As written.
    pub value: String,
    /// The fact.
    pub fact: FactRef,
}
