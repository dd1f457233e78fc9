//! What waits behind gaps, as whoever checks and appends it again reads it.
//!
//! Deliberately absent: what waits, and why (`waiting.rs`).

use gladhand_facts::LogId;

use crate::journal::Journal;
use crate::read::ReadError;
use crate::record::{Loc, RecordKind};
use crate::waiting::Gap;

impl Journal {
    /// The gaps of all logs.
    pub fn gaps(&self) -> Vec<Gap> {
        let logs = self.offsets.waiting_logs();
        logs.flat_map(|(log, waiting)| waiting.gaps(log, self.offsets.head(&log)))
            .collect()
    }

    /// The entries that wait though nothing before them is missing any more, in the order in which they once arrived.
    pub fn ready(&self) -> Vec<(LogId, u64)> {
        let mut found: Vec<(Loc, LogId, u64)> = Vec::new();
        for (log, waiting) in self.offsets.waiting_logs() {
            // Never before an earlier entry of the same log, of which a later copy may be kept.
            let mut latest = Loc::new(0, 0);
            for (seq, loc) in waiting.following(self.offsets.head(&log)) {
                latest = latest.max(loc);
                found.push((latest, log, seq));
            }
        }
        found.sort_unstable();
        found.into_iter().map(|(_, log, seq)| (log, seq)).collect()
    }

    /// One entry that waits.
    ///
    /// # Errors
    /// When it cannot be read.
    pub fn read_waiting(&self, log: &LogId, seq: u64) -> Result<Option<Vec<u8>>, ReadError> {
        let loc = self.offsets.waiting(log).and_then(|waiting| waiting.entries.get(&seq));
        self.read_at(loc.copied(), RecordKind::Entry, log, seq)
    }

    /// The checkpoint of one entry that waits.
    ///
    /// # Errors
    /// When it cannot be read.
    pub fn read_waiting_checkpoint(&self, log: &LogId, seq: u64) -> Result<Option<Vec<u8>>, ReadError> {
        self.read_at(self.waiting_checkpoint(log, seq), RecordKind::Checkpoint, log, seq)
    }

    /// Whether a checkpoint of this entry waits with it.
    pub fn checkpoint_waits(&self, log: &LogId, seq: u64) -> bool {
        self.waiting_checkpoint(log, seq).is_some()
    }

    fn waiting_checkpoint(&self, log: &LogId, seq: u64) -> Option<Loc> {
        self.offsets.waiting(log)?.checkpoints.get(&seq).copied()
    }
}
