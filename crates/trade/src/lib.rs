//! The trade as data: the work standard, what a check must say, and what the numbers on the labels must add up to.

#![cfg_attr(
    test,
    allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)
)]

pub mod advice;
pub mod band;
pub mod checks;
pub mod clearance;
pub mod codes;
pub mod names;
pub mod near;
pub mod requirement;
pub mod section;
pub mod situation;
pub mod standard;
mod table;

pub use band::{Band, Side};
pub use checks::{Verdict, verdict, wait_verdict};
pub use clearance::{Answer, decide};
pub use codes::{CodeRule, CodeVerdict};
pub use near::{near_misses, within_one_edit};
pub use requirement::{Requirement, Wants};
pub use section::StandardError;
pub use situation::{Reading, Saw, Situation};
pub use standard::{ClockLimits, Retention, Standard};
