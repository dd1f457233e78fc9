//! All English of the reconciler: what a finding says and what to do about it, and the texts of a picture.
//!
//! Rules give reasons as data ([`crate::reason`]); here they become sentences. Names of devices and people are looked up only
//! here, so a rename changes what is read and nothing that is stored. Commands, pages and JSON print these sentences as they are.

pub mod describe;
pub mod described;
pub(crate) mod picture;
pub mod told;
mod trailers;

mod devices;
mod jobs;
mod pairs;
mod parts;
mod phrases;
mod proofs;
mod reliance;
mod sign_offs;
pub(crate) mod teller;
mod walls;

pub use describe::describe;
pub use described::{Described, NextStep, Step};
pub use phrases::short_span;
pub use told::ToldFinding;
