//! Disks for tests: one in memory that loses what was never synced, and one that fails on demand.
//!
//! They compose: a [`FaultyDisk`] over a [`MemoryDisk`] simulates a power cut at any write; over a [`crate::RealDisk`] it
//! simulates a full or failing disk under a whole home. The feature `testing` makes them available to other crates' tests.

// A disk for tests may fail a test by panicking, never a program.
#![allow(clippy::unwrap_used)]

mod faulty;
mod memory;

pub use faulty::{Call, Faults, FaultyDisk};
pub use memory::{Crash, MemoryDisk};
