//! The trade as data: what the work must be like, and what the characters on its labels must add up to.
//!
//! From the bottom up: [`section`] (one table of the standard, with the line of every mistake), [`band`] (a range of
//! exact measures), [`requirement`] and [`advice`] (one check; what is shown beside the work), [`standard`] (the whole
//! file), [`situation`] (what is known when a wall is to be cut), [`checks`] (does this fact pass?), [`clearance`] (may this
//! wall be cut?), [`codes`] (check characters), [`near`] (codes one edit apart).
//!
//! The values are in `config/work-standard.toml`, which explains each of its keys; a fleet edits the file. This crate knows
//! only the structure.
//!
//! Deliberately absent: clock, file, network, and merging. The caller knows which fact is the latest and which came before
//! which; one fact, or a list in order, is judged here. No judgement here is final against a person: a code that fails is a
//! question, and a reading that does not decide is for the office.

#![cfg_attr(
    test,
    allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)
)]

pub mod advice;
pub mod answer;
pub mod band;
mod changed;
pub mod checks;
pub mod clearance;
pub mod codes;
mod judged;
pub mod made_good;
pub mod names;
pub mod near;
mod proof;
pub mod requirement;
pub mod section;
pub mod situation;
pub mod standard;
mod table;

pub use answer::{Answer, Approval};
pub use band::{Band, Side};
pub use checks::{Verdict, verdict, verdict_on, wait_verdict};
pub use clearance::decide;
pub use codes::{CodeRule, CodeVerdict};
pub use made_good::MadeGood;
pub use near::{near_misses, within_one_edit};
pub use requirement::{Requirement, Visit, Wants};
pub use section::StandardError;
pub use situation::{Observation, Situation, WallReading};
pub use standard::{ClockLimits, Retention, Standard};
