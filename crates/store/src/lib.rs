//! Bytes at rest: the home folder, the journal, the index derived from it, and pictures.
//!
//! From the bottom up: [`Disk`] (the operations needed from a file system), [`Journal`] (the records of all logs in arrival
//! order), [`Index`] (what can be rebuilt from the journal), [`Pictures`] (files named by their hash), [`Home`] (the folder
//! with all of them, its lock and key).
//!
//! Deliberately absent: the bytes of an entry are not interpreted here. No signature, no hash chain, no Automerge, no network.
//! This crate guarantees that bytes come back as they were given, in that order, or names what is damaged; whether they are
//! authentic is the logbook's task.
//!
//! # One journal instead of a folder per log
//! There is one append-only journal per home (`log/00000001.seg`, `00000002.seg`, …), with the records of all logs in the
//! order of arrival, and not one file per log:
//!
//! - A frame from a peer has runs of several logs that depend on each other (an entry names what its device had seen of other
//!   logs). One batch with one checksum is there whole or not at all; with a file per log a power cut could keep one run and
//!   lose another that it depends on.
//! - One fsync per batch, however many logs are in it.
//! - The order of arrival is kept, so what is derived can catch up from a [`Position`].
//!
//! What it costs: reading one log skips over the entries of others, and a damaged segment can affect several logs. Reading
//! ahead helps with the first, peers with the second.
//!
//! # Figures
//! From `examples/figures.rs` (two cores, an otherwise idle disk with fdatasync around 0.5 ms; one run): durable batches of one entry of 250 bytes 1,350 a second, of 256 entries 3,100 a second (790,000
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
pub mod home;
pub mod index;
pub mod journal;
mod mend;
mod offsets;
mod opening;
mod partial;
pub mod pictures;
mod read;
mod ready;
mod record;
mod repair;
mod scan;
mod segment;
#[cfg(any(test, feature = "testing"))]
pub mod testing;
#[cfg(test)]
mod tests;
mod verify;
mod waiting;
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
pub use waiting::Gap;
