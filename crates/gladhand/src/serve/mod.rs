//! The daemon: one thread owns the node, everything else asks it.

pub mod daemon;
mod log;
mod memory;
mod network;
mod tidy;
