//! What a node takes from environment itself: the disk of its journal, the time, randomness, the machine's name.
//!
//! Given once, when the home is opened: so a simulator can play a day of a whole fleet from one number, with disks that
//! tear and clocks that jump, on the very code that runs in a yard. Deliberately not here: the small files of the home and
//! the index. The first hold nothing that a day changes, the second can be made again from the journal.

use std::sync::Arc;

use gladhand_store::{Disk, RealDisk};

use crate::failure::Failure;
use crate::system;

/// Fills a buffer with random bytes.
pub type Rng = dyn Fn(&mut [u8]) -> Result<(), Failure> + Send + Sync;

/// See the module doc. Clones share everything.
#[derive(Clone)]
pub struct Environment {
    /// Where the journal lies.
    pub disk: Arc<dyn Disk>,
    /// Wall time in microseconds since 1970.
    pub now_us: Arc<dyn Fn() -> i64 + Send + Sync>,
    /// Randomness.
    pub chance: Arc<Rng>,
    /// What tells this machine from another.
    pub machine_id: String,
}

impl Environment {
    /// The machine that this program runs on.
    pub fn machine() -> Self {
        Self {
            disk: Arc::new(RealDisk),
            now_us: Arc::new(system::now_us),
            chance: Arc::new(system::fill_random),
            machine_id: system::machine_id(),
        }
    }

    pub(super) fn now_us(&self) -> i64 {
        (self.now_us)()
    }

    pub(super) fn random<const N: usize>(&self) -> Result<[u8; N], Failure> {
        let mut bytes = [0; N];
        (self.chance)(&mut bytes)?;
        Ok(bytes)
    }
}
