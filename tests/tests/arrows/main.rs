//! The house keeps its arrows: which crate may use which, where the heavy packages live, that the pure crates touch no clock, no
//! randomness, no environment, no file and no socket; and within a crate, that folders use each other in one direction only and files
//! do not go round in circles. DEVELOPERS.md shows the house as it is found here.
//!
//! All of it is read from `cargo metadata` and from the sources; nothing is built. What is allowed by name stands in `rules`.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod circles;
mod figures;
mod folders;
mod imports;
mod limits;
mod packages;
mod picture;
mod pure;
mod rules;
mod sources;
mod tokens;
