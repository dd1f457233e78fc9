//! Writing into the own log.

use gladhand_facts::stamp::MAX_AHEAD_US;
use gladhand_facts::{LogId, Stamp, VersionVector};

use super::error::WriteError;
use super::records::{LogGrowth, NewRecord, NewRecords};
use super::{Book, Own};
use crate::checkpoint::{Checkpoint, ENTRIES_PER_CHECKPOINT};
use crate::entry::{self, Body, Entry, EntryHash, MAX_ENTRY_BYTES};
use crate::governance::Record;

impl Book {
    /// Where the next own entry will be; `None` when this book has no log of its own.
    pub fn next_place(&self) -> Option<(LogId, u64)> {
        let log = self.own_log()?;
        Some((log, self.head(&log).0 + 1))
    }

    /// The clock's reading for an event at `now_us`.
    pub fn stamp(&self, now_us: i64) -> Stamp {
        self.latest_stamp(now_us).tick(now_us)
    }

    /// The latest stamp that the next own one must exceed. It follows from what is held, so a restart changes nothing.
    ///
    /// A stamp of another device counts only while it is at most [`MAX_AHEAD_US`] ahead of `now_us`: its entry is let in,
    /// but a device whose clock is set to next year must not move ours there.
    fn latest_stamp(&self, now_us: i64) -> Stamp {
        let own = self.own_log().map(|own| own.device);
        self.logs.iter().fold(Stamp::default(), |latest, (log, state)| {
            if Some(log.device) == own {
                latest.max(state.stamp)
            } else {
                latest.merge(state.stamp, now_us, MAX_AHEAD_US).unwrap_or(latest)
            }
        })
    }

    /// Writes entries with these bodies into the own log, in one batch that ends in a checkpoint.
    ///
    /// # Errors
    /// [`WriteError`]; nothing has changed then.
    pub fn write(&self, bodies: Vec<Body>, now_us: i64) -> Result<NewRecords, WriteError> {
        let own = self.own.as_ref().ok_or(WriteError::NoOwnLog)?;
        let (seq, previous) = self.head(&own.log);
        let stamp = self.latest_stamp(now_us);
        let mut batch = Batch {
            own,
            growth: LogGrowth::at(seq, previous, stamp),
            out: NewRecords::default(),
        };
        let mut newly = self.newly_seen(&own.log);
        let count = bodies.len();
        for (i, body) in bodies.into_iter().enumerate() {
            // The clock goes on within a batch. So a stamp that counts means that the clock did not go on: it was set back, or another
            // device's is a little ahead.
            let now_us = now_us.saturating_add(i64::try_from(i).unwrap_or(i64::MAX));
            let (seq, hash) = batch.add(body, std::mem::take(&mut newly), now_us)?;
            if i + 1 == count || seq.is_multiple_of(ENTRIES_PER_CHECKPOINT) {
                batch.sign(seq, &hash);
            }
        }
        Ok(batch.finish())
    }

    /// What is held of other logs and was not when the last own entry was written.
    fn newly_seen(&self, own: &LogId) -> VersionVector {
        let mut all = self.vector();
        self.causal_gaps().for_each(|(log, last)| all.cut(&log, last));
        all.cut(own, 0);
        all.beyond(&self.seen_at(own, u64::MAX))
    }
}

/// Entries that are being written.
struct Batch<'b> {
    own: &'b Own,
    growth: LogGrowth,
    out: NewRecords,
}

impl Batch<'_> {
    fn add(&mut self, body: Body, seen: VersionVector, now_us: i64) -> Result<(u64, EntryHash), WriteError> {
        let log = self.own.log;
        let seq = self.growth.head_seq + 1;
        let stamp = self.growth.stamp.tick(now_us);
        if let Body::Governance(json) = &body
            && let Some(record) = Record::decode(json)
        {
            self.out.effects.governance.push((log, seq, record));
        }
        let entry = Entry {
            previous: self.growth.head_hash,
            seq,
            stamp,
            seen: seen.clone(),
            body,
        };
        let bytes = entry.encode();
        if bytes.len() > MAX_ENTRY_BYTES {
            return Err(WriteError::TooLong(bytes.len()));
        }
        let hash = entry::hash(&log, &bytes);
        self.growth.grow(seq, hash, stamp, seen);
        self.out.records.push(NewRecord::Entry { log, seq, bytes });
        Ok((seq, hash))
    }

    fn sign(&mut self, seq: u64, hash: &EntryHash) {
        let checkpoint = Checkpoint::sign(&self.own.secret, self.own.log, seq, hash);
        self.growth.checkpoints.push(seq);
        self.out.records.push(NewRecord::Checkpoint(checkpoint));
    }

    fn finish(self) -> NewRecords {
        let mut out = self.out;
        out.effects.logs.insert(self.own.log, self.growth);
        out
    }
}
