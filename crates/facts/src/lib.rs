//! The words of Gladhand, and nothing that acts.
//!
//! A reader starts here. From the bottom up: [`Measure`] (exact lengths and torques), [`Moment`] (a time
//! with the offset it was written with), [`canonical`] (one spelling for one JSON value), [`Fact`] (one
//! thing seen or done), [`ids`] (who wrote it and where it stands), [`Stamp`] (hybrid logical clock),
//! [`VersionVector`] (what a device had seen).
//!
//! What is deliberately absent: no clock, no randomness, no file, no socket, no environment. Whoever needs
//! the time passes it in. Every other crate of the workspace depends on this one; this one depends on none.

#![cfg_attr(
    test,
    allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)
)]

pub mod canonical;
pub mod fact;
pub mod ids;
pub mod kind;
pub mod measure;
pub mod moment;
pub mod stamp;
pub mod strict;
pub mod vector;

pub use fact::{Fact, FactError};
pub use ids::{DeviceKey, FactId, LogId, Place};
pub use kind::Kind;
pub use measure::{Dimension, Measure, MeasureError};
pub use moment::{Moment, MomentError};
pub use stamp::{ClockError, Stamp};
pub use vector::VersionVector;
