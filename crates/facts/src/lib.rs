//! The data types of Gladhand, without behaviour of their own.
//!
//! A reader starts here. From the bottom up: [`Measure`] (exact lengths and torques), [`Moment`] (a time
//! with the offset it was written with), [`canonical`] (one spelling for one JSON value), [`key`] (by what two names are compared), [`unique_keys`] (JSON without
//! repeated keys), [`ids`] (who wrote a fact and where it is), [`Fact`] (one thing seen or done), [`Stamp`] (hybrid
//! logical clock), [`VersionVector`] (what a device had seen), [`varint`] (one encoding for one number).
//!
//! Deliberately absent: clock, randomness, file, socket, environment. Callers pass the time in. Every other crate of the
//! workspace depends on this one; this one depends on none of them.

#![cfg_attr(
    test,
    allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)
)]

pub mod canonical;
pub mod fact;
pub mod ids;
pub mod key;
pub mod kind;
pub mod measure;
pub mod moment;
pub mod stamp;
pub mod unique_keys;
pub mod varint;
pub mod vector;

pub use fact::{Fact, FactError};
pub use ids::{DeviceKey, FactId, LogId, Place};
pub use key::{code_key, name_key};
pub use kind::Kind;
pub use measure::{Dimension, Measure, MeasureError};
pub use moment::{Moment, MomentError};
pub use stamp::{ClockError, Stamp};
pub use vector::VersionVector;
