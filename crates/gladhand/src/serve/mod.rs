//! The daemon: one thread owns the node, everything else asks it.

pub mod handle;

pub use handle::NodeHandle;
