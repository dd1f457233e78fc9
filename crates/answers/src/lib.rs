//! One typed answer for each question that a person, a script or a page asks of a node.
//!
//! An answer is a plain `serde` structure. It is made from the node once; text for a terminal ([`text`]), `--json`, HTML
//! and HTTP only render it, so they cannot disagree. Its JSON schema is generated from the same definition ([`schema`]).
//!
//! Rules that hold for every answer:
//! - it has a `version`, which goes up when a key changes its meaning or disappears;
//! - where several values are possible there is an array, also when it holds one value or none;
//! - what to do next is data ([`step::Step`]), so that a page can offer a button where a terminal shows a command;
//! - it holds no time of its own making unless the question was about now.
//!
//! Deliberately absent: the network (what only sessions know is handed in), the terminal, exit codes and hints.

#![cfg_attr(
    test,
    allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)
)]

pub mod advice;
pub mod bundles;
pub mod clearance;
mod clearance_steps;
pub mod deed;
pub mod error;
pub mod exported;
pub mod fact_words;
pub mod findings;
pub mod gap_in_log;
pub mod history;
pub mod homes;
pub mod html;
pub mod image_header;
pub mod job_list;
pub mod job_returns;
pub mod job_shown;
pub mod judging;
pub mod moment;
mod next_steps;
pub mod parts;
pub mod proof_picture;
pub mod receipt;
pub mod report;
pub mod report_by;
pub mod reported_approval;
pub mod resolve;
pub mod schema;
pub mod shown_finding;
#[cfg(test)]
mod small_home;
#[cfg(test)]
mod small_yard;
pub mod spreadsheet;
pub mod standard;
pub mod status;
pub mod step;
pub mod synced;
pub mod text;
pub mod told;
pub mod torn;
pub mod trailer_shown;
pub mod verified;
pub mod version;
pub mod waits;
pub mod warned;

pub use error::AnswerError;
pub use judging::JudgingContext;
pub use version::Versioned;
