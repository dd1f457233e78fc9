//! Checkpoints: a device's signature over the head of its log.
//!
//! Through the hash chain, one signature covers every entry before it. A device writes one at the end of each batch, and at
//! every [`ENTRIES_PER_CHECKPOINT`]th entry; transfers can stop and continue at any of them.
//!
//! Bytes: the 64-byte signature alone; log, seq and hash are known where a checkpoint is stored or sent.

use gladhand_facts::LogId;

use crate::entry::EntryHash;
use crate::keys::{self, DeviceSecret};
use crate::wire;

/// There is a checkpoint at each multiple of this number, and at the end of each batch.
pub const ENTRIES_PER_CHECKPOINT: u64 = 256;

const CONTEXT: &str = "gladhand log head 1";

/// A signed log head.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checkpoint {
    /// Which log.
    pub log: LogId,
    /// Up to which entry.
    pub seq: u64,
    /// Signature over log, seq and the hash of that entry.
    pub signature: [u8; 64],
}

impl Checkpoint {
    /// Signs the head of a log. `secret` must be the key of `log.device`.
    pub fn sign(secret: &DeviceSecret, log: LogId, seq: u64, hash: &EntryHash) -> Self {
        Self {
            log,
            seq,
            signature: secret.sign(CONTEXT, &message(&log, seq, hash)),
        }
    }

    /// Whether the log's device signed `hash` at this place.
    pub fn vouches_for(&self, hash: &EntryHash) -> bool {
        keys::verify(
            &self.log.device,
            CONTEXT,
            &message(&self.log, self.seq, hash),
            &self.signature,
        )
    }
}

fn message(log: &LogId, seq: u64, hash: &EntryHash) -> Vec<u8> {
    let mut out = Vec::with_capacity(80);
    wire::put_log(&mut out, log);
    wire::put_number(&mut out, seq);
    out.extend_from_slice(&hash.0);
    out
}
