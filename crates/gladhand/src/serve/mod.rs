//! The daemon: one thread owns the node, everything else asks it.

pub mod daemon;
pub mod handle;
mod log;
mod network;
mod tidy;

pub use handle::NodeHandle;
