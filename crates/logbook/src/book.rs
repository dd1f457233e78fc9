//! All logs of a node: what is held, what each entry had seen, and the gate for what peers send.
//!
//! The book keeps heads and version vectors, never entries: those are stored elsewhere. Writing and letting in are done in
//! two steps, so that nothing counts before it is durable: [`Book::write`] and [`Book::admit`] return the records, the caller
//! makes them durable, [`Book::apply`] makes them count.
//!
//! Invariants:
//! - logs are contiguous: the head of a log is its entry count;
//! - the book is causally closed: what an entry had seen is held too. Exceptions are entries that no longer count (their
//!   device was retired, or used an invite of another device), because otherwise one lost laptop would keep out all devices
//!   that had met it; and entries that a damaged disk has lost (`book/gaps.rs`);
//! - every log ends in a checkpoint by its device;
//! - it has only logs of devices that the roster admitted (a later record may change that: see [`Book::counts`]).
//!
//! Deliberately absent: the content of entries. A body that does not read keeps its place in the chain; the code that reads
//! facts from it reports the damage, and the rest of the log counts.

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::{DeviceKey, LogId, VersionVector};

use crate::entry::{Entry, EntryError, EntryHash};
use crate::keys::DeviceSecret;
use crate::roster::{Refusal, Roster};

mod clock_trail;
mod error;
mod gaps;
mod gate;
mod log_state;
mod records;
mod write;

pub use clock_trail::Meeting;
pub use error::{GateError, WriteError};
use log_state::LogState;
use records::Effects;
pub use records::{Incoming, NewRecord, NewRecords};

/// The hash of an entry that is held, or `None`.
pub type HashOf<'a> = &'a dyn Fn(&LogId, u64) -> Option<EntryHash>;

/// The log that this node writes.
struct Own {
    log: LogId,
    secret: DeviceSecret,
}

/// All logs of a node. A clone is cheap: it shares the logs and the roster until one of the two grows.
#[derive(Clone)]
pub struct Book {
    own: Option<Arc<Own>>,
    /// The logs with a causal gap, each with the last entry before it.
    causal_gaps: BTreeMap<LogId, u64>,
    logs: BTreeMap<LogId, Arc<LogState>>,
    roster: Arc<Roster>,
    /// Entries of the depot and of others between which a clock shows that it is wrong.
    meetings: Arc<Vec<Meeting>>,
    /// The vector of an entry that had seen nothing.
    nothing: Arc<VersionVector>,
}

impl Book {
    /// An empty book whose roster is under `root`.
    pub fn new(root: Option<DeviceKey>) -> Self {
        Self {
            own: None,
            causal_gaps: BTreeMap::new(),
            logs: BTreeMap::new(),
            roster: Arc::new(Roster::new(root)),
            meetings: Arc::default(),
            nothing: Arc::default(),
        }
    }

    /// From now on this node writes `log` with `secret`.
    pub fn write_as(&mut self, secret: DeviceSecret, log: LogId) {
        self.own = Some(Arc::new(Own { log, secret }));
    }

    /// The log that this node writes.
    pub fn own_log(&self) -> Option<LogId> {
        self.own.as_ref().map(|own| own.log)
    }

    /// Signs with the key of the own log, for a stated purpose.
    pub fn sign(&self, context: &str, message: &[u8]) -> Option<[u8; 64]> {
        self.own.as_ref().map(|own| own.secret.sign(context, message))
    }

    /// Who may write, and what they are called.
    pub fn roster(&self) -> &Roster {
        &self.roster
    }

    /// To set the root, or to add credentials that peers sent.
    pub fn roster_mut(&mut self) -> &mut Roster {
        Arc::make_mut(&mut self.roster)
    }

    /// Adds an entry that is already durable. Called for each one at start, in the order of arrival.
    ///
    /// # Errors
    /// [`EntryError`] when its header does not read; its place in the chain still counts.
    pub fn replay_entry(&mut self, log: LogId, seq: u64, bytes: &[u8]) -> Result<(), EntryError> {
        let state = Arc::make_mut(self.logs.entry(log).or_default());
        state.replay(seq, bytes);
        let (header, record) = Entry::header_and_record(bytes)?;
        state.learn_header(seq, &header);
        self.learn_meetings(&log, seq, &header.seen);
        if let Some(record) = record {
            self.roster_mut().learn(&log, seq, record);
        }
        Ok(())
    }

    /// Adds a checkpoint that is already durable.
    pub fn replay_checkpoint(&mut self, log: LogId, seq: u64) {
        Arc::make_mut(self.logs.entry(log).or_default()).checkpoints.insert(seq);
    }

    /// What is held: per log, its head.
    pub fn vector(&self) -> VersionVector {
        self.logs.iter().map(|(log, state)| (*log, state.head_seq)).collect()
    }

    /// What is held and counts: a retired device's logs only up to their last entries that count.
    pub fn counting(&self) -> VersionVector {
        let last = |log: &LogId, head: u64| match self.counts(log, head) {
            Ok(()) => head,
            Err(Refusal::Retired { last, .. }) => last.min(head),
            Err(_) => 0,
        };
        let heads = self.logs.iter().map(|(log, state)| (*log, state.head_seq));
        heads.map(|(log, head)| (log, last(&log, head))).collect()
    }

    /// The head of a log: its seq and hash. Of a log that is not held, what comes before its first entry.
    pub fn head(&self, log: &LogId) -> (u64, EntryHash) {
        self.logs
            .get(log)
            .map_or((0, EntryHash::ZERO), |state| (state.head_seq, state.head_hash(log)))
    }

    /// BLAKE3 over (log, seq, head hash) of all logs: equal digests mean equal histories. Without the hashes two branches of a
    /// forked log would look equal.
    pub fn digest(&self) -> [u8; 32] {
        let mut hasher = blake3::Hasher::new_derive_key("gladhand 2026 history digest 1");
        for (log, state) in &self.logs {
            hasher.update(&log.device.0).update(&log.incarnation.to_le_bytes());
            hasher
                .update(&state.head_seq.to_le_bytes())
                .update(&state.head_hash(log).0);
        }
        *hasher.finalize().as_bytes()
    }

    /// The entries of a log at which something was newly seen, each with the vector from there on.
    fn points(&self, log: &LogId) -> &[(u64, Arc<VersionVector>)] {
        self.logs.get(log).map_or(&[], |state| &state.seen)
    }

    /// What the writer of this entry had seen of other logs when it wrote it.
    pub fn seen_at(&self, log: &LogId, seq: u64) -> Arc<VersionVector> {
        let points = self.points(log);
        let after = points.partition_point(|(from, _)| *from <= seq);
        let point = after.checked_sub(1).and_then(|i| points.get(i));
        point.map_or_else(|| Arc::clone(&self.nothing), |(_, vector)| Arc::clone(vector))
    }

    /// The first entry of `log` whose writer had seen entry `seq` of `other`.
    pub fn first_seen(&self, log: &LogId, other: &LogId, seq: u64) -> Option<u64> {
        let points = self.points(log);
        // Vectors only grow.
        let first = points.partition_point(|(_, vector)| !vector.includes(other, seq));
        points.get(first).map(|(at, _)| *at)
    }

    /// Everything that the writer of this entry knew when it wrote it, including the entry.
    pub fn known_at(&self, log: &LogId, seq: u64) -> VersionVector {
        let mut vector = VersionVector::clone(&self.seen_at(log, seq));
        vector.advance(*log, seq);
        vector
    }

    /// What a device certainly holds: what its newest entries had seen.
    pub fn known_by(&self, device: &DeviceKey) -> VersionVector {
        let mut vector = VersionVector::new();
        for (log, state) in self.logs.iter().filter(|(log, _)| log.device == *device) {
            vector.merge(&self.known_at(log, state.head_seq));
        }
        vector
    }

    /// The entries of a log at which something was newly seen, after `from` and up to `to`.
    pub fn seen_points(&self, log: &LogId, from: u64, to: u64) -> impl Iterator<Item = (u64, &VersionVector)> {
        let points = self.points(log);
        let before = points.partition_point(|(at, _)| *at <= from);
        let after = points.iter().skip(before);
        after.take_while(move |(at, _)| *at <= to).map(|(at, v)| (*at, &**v))
    }

    /// The checkpoints of a log after `from` and up to `to`.
    pub fn checkpoints(&self, log: &LogId, from: u64, to: u64) -> impl Iterator<Item = u64> {
        let state = self.logs.get(log).filter(|_| from < to);
        state
            .into_iter()
            .flat_map(move |s| s.checkpoints.range(from + 1..=to).copied())
    }

    /// Whether an entry that is held counts: its device may have been retired since, or its invite used by another one.
    ///
    /// # Errors
    /// [`Refusal`], with the reason why it does not.
    pub fn counts(&self, log: &LogId, seq: u64) -> Result<(), Refusal> {
        self.roster.counts_for(self.own_log().map(|own| own.device), log, seq)
    }

    /// Makes records count that are now durable.
    pub fn apply(&mut self, new: NewRecords) {
        let Effects { logs, governance } = new.effects;
        for (log, growth) in &logs {
            Arc::make_mut(self.logs.entry(*log).or_default()).apply(growth);
        }
        for (log, growth) in &logs {
            for (seq, newly) in &growth.seen {
                self.learn_meetings(log, *seq, newly);
            }
        }
        for (log, seq, record) in governance {
            self.roster_mut().learn(&log, seq, record);
        }
        if !self.causal_gaps.is_empty() {
            self.find_causal_gaps();
        }
    }
}
