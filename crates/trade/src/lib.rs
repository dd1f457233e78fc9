//! The trade as data: what the work must be like, and what the numbers on its labels must add up to.
//!
//! From the bottom up: [`section`] (one table of the standard, with the line of every mistake), [`band`] (a range of
//! exact measures), [`requirement`] and [`advice`] (one check; what is shown beside the work), [`standard`] (the whole
//! file), [`checks`] (does this fact pass?), [`situation`] and [`clearance`] (may this wall be cut?), [`codes`] (check
//! characters), [`near`] (codes one slip apart).
//!
//! The values stand in `config/work-standard.toml`, which explains each of its keys; the code knows only the shapes.
//! A fleet edits the file.
//!
//! What is deliberately absent: no clock, no file, no network, and no merging. Which fact is the latest, and which
//! came before which, is for whoever holds the logs; here one fact, or a list in order, is judged. Nothing here
//! decides against a person for good: a code that fails is a question, a reading that does not decide is asked about.

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
pub use situation::{Saw, Situation, WallReading};
pub use standard::{ClockLimits, Retention, Standard};
