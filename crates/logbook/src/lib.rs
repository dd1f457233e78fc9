//! Signed append-only logs, job documents and exchange: what makes two devices agree.
//!
//! Everything here is sans-IO: bytes, times and randomness come in as arguments, bytes to send and records to
//! make durable go out as values. The network, a pipe in a test and a bundle file carry the same frames.
//!
//! From the bottom up: [`wire`] (bounded reading of bytes), [`keys`] (device keys), [`entry`] (one place in a
//! log), [`checkpoint`] (a signed log head), [`governance`] and [`roster`] (who may write), [`jobdoc`] (one
//! Automerge document per job), [`book`] (all logs of a node, and the gate for what comes in), [`branches`] (a device
//! at work in more than one copy), [`plan`] and
//! [`frame`] (what a peer lacks, in an order that respects happens-before), [`bundle`] and [`exchange`] (the two
//! ways to carry it).
//!
//! Deliberately absent: files, sockets, clocks, randomness, and any judgement about what facts mean.

#![cfg_attr(
    test,
    allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)
)]

pub mod book;
pub mod branches;
pub mod bundle;
pub mod checkpoint;
pub mod entry;
pub mod exchange;
pub mod frame;
pub mod governance;
pub mod jobdoc;
pub mod keys;
pub mod plan;
pub mod roster;
pub mod wire;

pub use book::{Book, GateError, Incoming, NewRecord, NewRecords, WriteError};
pub use checkpoint::Checkpoint;
pub use entry::{Body, Entry, EntryError};
pub use keys::DeviceSecret;
