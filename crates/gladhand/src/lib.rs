//! The one binary: command line, inbox, bundles, reports. Only here do clocks, randomness, files and words for people
//! meet the pure crates below.
//!
//! [`dispatch`] finds who carries a command line out; [`commands`] are what a person or script asks for; [`serve`] is the daemon,
//! with the [`inbox`]; [`control`] is the socket between the two; [`failure`] turns errors into words and exit codes.

#![cfg_attr(
    test,
    allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)
)]

pub mod cli;
pub mod commands;
pub mod console;
pub mod control;
pub mod dispatch;
pub mod failure;
pub mod inbox;
pub mod serve;
pub mod show;
pub mod usage;
