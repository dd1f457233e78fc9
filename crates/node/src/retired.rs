//! Whether this device knows that the depot has retired it: from the record itself, or because a trusted device refused it and
//! said so.
//!
//! A retired device gets no session in which the record could reach it, so what it was told is kept in a file of the home.
//!
//! Deliberately without effect on anything but words: what a retired device records is kept as ever, and counts where the depot
//! says that it counts.

use std::path::PathBuf;

use crate::node::Node;

impl Node {
    fn told_retired(&self) -> PathBuf {
        self.home.layout().path().join("told-retired")
    }

    /// Whether this device knows that it was retired.
    pub fn is_retired(&self) -> bool {
        self.book.roster().retired(&self.device()).is_some() || self.told_retired().exists()
    }

    /// Notes that a trusted device has said so. If that cannot be kept, the next refusal says it again.
    pub fn note_retired(&self) {
        if !self.is_retired() {
            tracing::warn!("the depot has retired this device: what it records from now on counts nowhere");
            std::fs::write(self.told_retired(), "told by a device of the depot\n").ok();
        }
    }
}
