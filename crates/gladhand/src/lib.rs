//! The one binary: command line, inbox, bundles, reports. Only here do clocks, randomness, files and words for people
//! meet the pure crates below.
//!
//! [`node`] opens a home and does things with it; [`commands`] are what a person or script asks for; [`input`] reads fact
//! lines; [`failure`] turns errors into words and exit codes.

#![cfg_attr(
    test,
    allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)
)]

pub mod cli;
pub mod commands;
pub mod console;
pub mod control;
pub mod failure;
pub mod inbox;
pub mod serve;
pub mod show;
pub mod usage;
