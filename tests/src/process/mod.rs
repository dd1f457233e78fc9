//! A home as a process: the real binary run in a home, a command that is still running, a daemon.
//!
//! [`Home`] names a folder and runs the binary in it, to its end ([`Home::run`], [`Ran`]) or only begins ([`Home::start`],
//! [`Running`]); [`Home::serve`] starts its [`Daemon`]. All tests of whole processes go through here.
//!
//! Invariants: no wait is endless, and no process outlives the value that stands for it. Waiting is for something that happens, never
//! for a time in which it should have happened.

mod args;
mod binary;
mod daemon;
mod home;
mod inbox;
mod questions;
mod ran;
mod running;

use std::time::{Duration, Instant};

pub use args::Args;
pub use binary::gladhand;
pub use daemon::{Daemon, Signal};
pub use home::{Home, TempHome, command, copy_folder, feed};
pub use inbox::names;
pub use ran::Ran;
pub use running::Running;

/// No wait in a test is longer than this; none is meant to come near it.
pub const DEADLINE: Duration = Duration::from_secs(180);

/// Waits until `is_so`, or fails with `what`.
#[track_caller]
pub fn until(what: &str, is_so: impl FnMut() -> bool) {
    until_in(what, DEADLINE, is_so);
}

/// As [`until`], with a deadline of its own.
#[track_caller]
pub fn until_in(what: &str, deadline: Duration, mut is_so: impl FnMut() -> bool) {
    let end = Instant::now() + deadline;
    while !is_so() {
        assert!(Instant::now() < end, "waited in vain: {what}");
        std::thread::sleep(Duration::from_millis(5));
    }
}
