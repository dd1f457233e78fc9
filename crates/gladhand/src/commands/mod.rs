//! The commands, one file per group. Each opens the home, does its work, and writes what came of it.
//! Which command line means which of them is in `dispatch`.

pub(crate) mod bundle;
pub(crate) mod clearance;
mod context;
pub(crate) mod demo;
pub(crate) mod export;
pub(crate) mod findings;
pub(crate) mod history;
pub(crate) mod join;
pub(crate) mod next;
pub(crate) mod one_fact;
pub(crate) mod picture;
pub(crate) mod record;
pub(crate) mod report;
pub(crate) mod retire;
pub(crate) mod setup;
pub(crate) mod shell;
pub(crate) mod show_job;
pub(crate) mod standard;
pub(crate) mod status;
pub(crate) mod stock;
pub(crate) mod sync;
mod times;
pub(crate) mod verify;

pub(crate) use context::open_patiently;
pub use context::{Context, OpenNode};

/// A gate that has nothing to look at says so instead of passing.
fn gate_over_nothing(what: &str) -> crate::failure::Failure {
    crate::failure::Failure::bad_input(format!("--gate has nothing to look at: {what}"))
        .hint("Where that is all right, add --may-be-empty.")
}
