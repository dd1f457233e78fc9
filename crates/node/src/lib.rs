//! A node: one open home that records, merges, judges and answers queries.
//!
//! The path of a fact: lines ([`input`], [`intake`]) -> [`Node::record`] -> entries in the book -> the journal, fsync ->
//! receipt; then the index is brought up to date (`catch_up`). The path of a frame: `peer` or `merge` -> gate -> journal -> book;
//! then the index as well. Queries read the index ([`IndexedFacts`], [`Node::history`], [`Node::findings`]). In a daemon
//! [`handle`] gives sessions, commands and the inbox access to the one node.
//!
//! Deliberately absent: sockets (crate `net`), words for people, hints and exit codes (crates `answers` and `gladhand`).
//!
//! Invariants: what the book counts is in the journal; the index can be made again from the journal; a receipt is only given for
//! a fact that is durable.

#![cfg_attr(
    test,
    allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)
)]

pub mod access;
mod bundle_file;
mod carried;
mod carried_picture;
mod catch_up;
pub mod caught_panics;
pub mod clock;
mod clock_trails;
pub mod config;
mod days;
mod elsewhere;
mod enrol;
pub mod environment;
pub mod error;
mod forks;
pub mod handle;
mod history;
mod in_force;
mod index_keys;
mod indexed_facts;
pub mod input;
pub mod intake;
mod judging;
mod late_picture;
mod merge;
mod node;
mod noted;
mod open;
mod past;
pub mod peer;
pub mod picture;
pub mod progress;
mod re_record;
mod recall;
mod record;
mod retired;
mod seen;
pub mod snapshot;
mod upkeep;
mod verify;
mod view;
mod waiting;
mod wanted_pictures;
mod withdrawal;

pub use access::NodeAccess;
pub use bundle_file::inspect_bundle;
pub use catch_up::entry_facts;
pub use config::{Config, Role};
pub use environment::{Environment, Rng};
pub use error::{
    BundleFileError, JoinError, MakeInviteError, NodeError, OpenNodeError, PublishError, ReadBundleError, RecordError,
    RetireError, WithdrawalError,
};
pub use handle::NodeHandle;
pub use history::{History, HistoryQuery};
pub use indexed_facts::IndexedFacts;
pub use merge::{BundleRead, BundleWritten};
pub use node::Node;
pub use past::Past;
pub use progress::{Progress, Silent};
pub use record::{Receipt, RecordOutcome};
pub use snapshot::Snapshot;
pub use verify::{Fault, Verified};
pub use view::View;
pub use waiting::OpenGap;
