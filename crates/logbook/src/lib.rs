//! Signed append-only logs, job documents and exchange: what makes two devices agree.
//!
//! Everything here is sans-IO: bytes, times and randomness are arguments; bytes to send and records to make durable are
//! results. The network, a pipe in a test and a bundle file transport the same frames.
//!
//! From the bottom up: [`wire`] (bounded reading of bytes), [`keys`] (device keys), [`governance`] (records of who may
//! write), [`entry`] (one place of a log), [`checkpoint`] (a signed log head), [`roster`] (what the records add up to),
//! [`jobdoc`] (one Automerge document per job), [`frame`] (runs of entries), [`book`] (all logs of a node, and the gate for
//! what peers send), [`branches`] (devices of which more than one copy writes), [`plan`] (what a peer lacks, in an order that
//! respects happens-before), [`bundle`] and [`exchange`] (the two ways to transport it).
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
