//! The trade in whole processes: what the commands of an installer say, and what they do not let pass.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod approvals;
mod clearance;
mod history;
mod next;
mod rulings;
mod shown;
mod standard;
mod told;
mod yard;
