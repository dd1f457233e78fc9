//! Bytes at rest: the home folder, the journal, the index derived from it, and pictures.
//!
//! From the bottom up: [`Disk`] (the few things asked of a file system), [`Journal`] (the record of
//! everything: records of all logs in arrival order), [`Index`] (what can be rebuilt from the journal),
//! [`Pictures`] (files named by their hash), [`Home`] (the folder that holds them all, its lock and key).
//!
//! What is deliberately absent: the bytes of an entry mean nothing here. No signature, no hash chain, no
//! Automerge, no network. This crate says "these bytes are the ones you gave me, in the order you gave
//! them", or names what is damaged; whether they are true is for the logbook to say.
//!
//! # One journal instead of a folder per log
//! The design drew a folder of segments for each log. There is one append-only journal per home instead
//! (`log/00000001.seg`, `00000002.seg`, …), with the records of all logs in the order of arrival:
//!
//! - A frame from a peer holds runs of several logs that are true only together (an entry names what its
//!   device had seen of other logs). One batch with one checksum is there whole or not at all; with a file
//!   per log a power cut could keep one run and lose the run that it rests on.
//! - One fsync per batch, however many logs the batch touches.
//! - The order of arrival is kept, so what is derived can catch up from a [`Position`].
//!
//! The price: reading one log out of many interleaved ones skips through the journal, and a damaged
//! segment can touch several logs. The first is paid for with read-ahead, the second with peers.

//! # Figures
//! From `examples/figures.rs` (two cores, a disk with fdatasync around 0.5 ms while nobody else uses it; one
//! run): durable batches of one entry of 250 bytes 1,350 a second, of 256 entries 3,100 a second (790,000
//! entries); open 400,000 entries in 46 ms, with 4 MB of memory; read them log by log in 52 ms; one entry
//! anywhere in 1.2 µs from the page cache; index 400,000 facts with 5 postings each in 0.8 s,
//! open it in 30 ms; the 40 places of one job in 5 µs. 260 bytes on disk per entry of 250.

#![cfg_attr(
    test,
    allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)
)]

mod append;
pub mod codec;
pub mod damage;
pub mod disk;
mod found;
mod frame;
mod heads;
pub mod home;
pub mod index;
pub mod journal;
mod opening;
mod partial;
pub mod pictures;
mod read;
mod record;
mod repair;
mod scan;
mod segment;
#[cfg(any(test, feature = "testing"))]
pub mod testing;
#[cfg(test)]
mod tests;
mod verify;
mod wire;

pub use append::AppendError;
pub use damage::{Damage, DamageKind, Lost};
pub use disk::{Disk, DiskFile, RealDisk};
pub use home::{CreateError, Home, Layout, OpenHomeError, Unsettled};
pub use index::{FreshWhy, Index, IndexBatch, IndexError, IndexState};
pub use journal::{Journal, Options};
pub use opening::OpenError;
pub use partial::PictureRange;
pub use pictures::{PictureError, PictureHash, Pictures};
pub use read::{Batch, Entries, ReadError, Scan};
pub use record::{Position, Record, RecordKind};
