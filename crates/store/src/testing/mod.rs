//! Disks for tests: one in memory that forgets what was never synced, and one that fails on order.
//!
//! They compose: a [`FaultyDisk`] over a [`MemoryDisk`] plays a power cut at any write; over a
//! [`crate::RealDisk`] it plays a full or failing disk under a whole home. Behind the feature `testing`, so
//! that other crates can use them in their tests.

// A disk for tests may fail a test by panicking, never a program.
#![allow(clippy::unwrap_used)]

mod faulty;
mod memory;

pub use faulty::{Call, Faults, FaultyDisk};
pub use memory::{Crash, MemoryDisk};
