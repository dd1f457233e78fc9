//! A node: one home with everything in it open. What it can do: record, merge, judge, answer.
//!
//! The way of a fact: lines ([`input`], [`intake`]) -> [`Node::record`] -> entries in the book -> the journal, fsync ->
//! receipt; the index follows (`catch_up`). The way of a frame: `peer` or `merge` -> gate -> journal -> book; the index
//! follows the same way. Questions are answered from the index ([`IndexedFacts`], [`Node::history`], [`Node::findings`]).
//! [`handle`] lends the one node to sessions, commands and the inbox of a daemon.
//!
//! Deliberately absent: sockets (crate `net`), words for people, hints and exit codes (crates `answers` and `gladhand`).
//!
//! Invariant: what the book counts is in the journal. What the index holds can be made again from the journal.

#![cfg_attr(
    test,
    allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)
)]

pub mod access;
mod bundle_file;
mod catch_up;
pub mod caught_panics;
pub mod clock;
pub mod config;
mod enrol;
pub mod environment;
pub mod error;
mod forks;
mod governed;
pub mod handle;
mod history;
mod index_keys;
mod indexed_facts;
pub mod input;
pub mod intake;
mod judge;
mod late_picture;
mod merge;
mod node;
mod open;
mod past;
pub mod peer;
pub mod picture;
pub mod progress;
mod re_record;
mod recall;
mod record;
mod seen;
mod upkeep;
mod verify;
mod view;
mod wanted_pictures;

pub use access::NodeAccess;
pub use bundle_file::inspect_bundle;
pub use catch_up::entry_facts;
pub use config::{Config, Role};
pub use environment::{Environment, Rng};
pub use error::{
    BundleFileError, JoinError, MakeInviteError, NodeError, OpenNodeError, PublishError, ReadBundleError, RetireError,
};
pub use handle::NodeHandle;
pub use history::{History, HistoryQuery};
pub use indexed_facts::IndexedFacts;
pub use merge::{BundleRead, BundleWritten};
pub use node::Node;
pub use past::Past;
pub use progress::{Progress, Silent};
pub use record::{Receipt, Taken};
pub use verify::{Verified, Wrong};
pub use view::View;
