//! The one binary: command line and daemon. What an open home can do is the crate [`gladhand_node`], sessions with peers
//! are the crate [`gladhand_net`]; here is what people and scripts see of them.
//!
//! [`usage`] reads the command line ([`cli`]); [`commands`] carry it out, in this process or through the [`control`] socket
//! of a running daemon ([`serve`], [`inbox`]); [`console`] and [`show`] write what they have to say; [`failure`] turns
//! errors into sentences and exit codes.

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
