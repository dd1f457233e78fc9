//! The JSON schemas of all answers, generated from their definitions.

use schemars::{JsonSchema, Schema, schema_for};

use crate::clearance::Clearance;
use crate::job_list::JobList;
use crate::receipt::Receipt;
use crate::status::Status;
use crate::version::Versioned;

/// A schema and the name of its file in `docs/schemas`, without its ending.
pub struct Named {
    /// The name.
    pub name: &'static str,
    /// The schema.
    pub schema: Schema,
}

fn named<T: JsonSchema>(name: &'static str) -> Named {
    Named {
        name,
        schema: schema_for!(Versioned<T>),
    }
}

/// One for each answer.
pub fn all() -> Vec<Named> {
    vec![
        named::<Clearance>("clearance"),
        named::<JobList>("job-next"),
        named::<Receipt>("receipt"),
        named::<Status>("status"),
    ]
}
