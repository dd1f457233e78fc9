//! All logs of a node: what is held, what each entry had seen, and the gate for what comes in.
//!
//! The book keeps heads and version vectors, never entries: those are bytes at rest, in somebody else's care. Writing
//! and taking in are done in two steps, so that nothing counts before it is durable: [`Book::write`] and
//! [`Book::admit`] return the records, the caller makes them durable, [`Book::apply`] makes them count.
//!
//! Invariants:
//! - logs are contiguous: the head of a log is its entry count;
//! - the book is causally closed: whatever an entry had seen is held as well, unless it does not count here any more (it
//!   stands behind a retirement, or its device used somebody else's invite): otherwise one lost laptop would keep out
//!   everybody who had met it;
//! - every log ends in a checkpoint by its device;
//! - only devices that the roster admits are in it (a later record may disown one: see [`Book::counts`]).
//!
//! Deliberately absent: what entries say. A body that does not read is kept in its place in the chain, and whoever reads
//! facts out of it reports the damage; the rest of the log goes on.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use gladhand_facts::stamp::MAX_AHEAD_US;
use gladhand_facts::{DeviceKey, LogId, Stamp, VersionVector};

use crate::checkpoint::{Checkpoint, EVERY};
use crate::entry::{self, Body, Entry, EntryError, EntryHash, MAX_ENTRY_BYTES};
use crate::governance::Record;
use crate::keys::DeviceSecret;
use crate::roster::{Refusal, Roster};

mod gate;

/// Why something that came in was not let in.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum GateError {
    /// Its device may not write here.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// It does not follow what we hold.
    #[error("log {} goes on at entry {found}, but we hold it up to {held}", log.device.short())]
    Gap {
        /// The log.
        log: LogId,
        /// What we hold.
        held: u64,
        /// Where it goes on.
        found: u64,
    },
    /// It contradicts what we hold: two signed entries claim one place.
    #[error("log {} is forked: another entry claims place {seq}", log.device.short())]
    Forked {
        /// The log.
        log: LogId,
        /// The first place that differs, as far as is known.
        seq: u64,
        /// The hash that we hold.
        ours: EntryHash,
        /// The hash that came in.
        theirs: EntryHash,
    },
    /// No checkpoint vouches for it, or one that does not verify.
    #[error("log {}: no valid signature vouches for entries {from} to {to}", log.device.short())]
    Unsigned {
        /// The log.
        log: LogId,
        /// First entry.
        from: u64,
        /// Last entry.
        to: u64,
    },
    /// It had seen what we do not hold, so it cannot be true here yet.
    #[error("log {} entry {seq} had seen entries of {} that are not here", log.device.short(), other.device.short())]
    NotClosed {
        /// The log.
        log: LogId,
        /// The entry.
        seq: u64,
        /// The log that is missing something.
        other: LogId,
    },
    /// An entry does not read.
    #[error("log {} entry {seq}: {source}", log.device.short())]
    Entry {
        /// The log.
        log: LogId,
        /// The entry.
        seq: u64,
        /// What is wrong.
        source: EntryError,
    },
}

/// Why nothing can be written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WriteError {
    /// The entry would be longer than [`MAX_ENTRY_BYTES`].
    #[error("an entry of {0} bytes is too long to write (at most {MAX_ENTRY_BYTES})")]
    TooLong(usize),
    /// This book belongs to nobody who writes.
    #[error("this node has no log of its own to write")]
    NoOwnLog,
}

/// The hash of an entry that is held, or `None`.
pub type HashOf<'a> = &'a dyn Fn(&LogId, u64) -> Option<EntryHash>;

/// A record to make durable.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NewRecord {
    /// An entry with its bytes.
    Entry {
        /// The log.
        log: LogId,
        /// Its place.
        seq: u64,
        /// Its bytes.
        bytes: Vec<u8>,
    },
    /// A checkpoint.
    Checkpoint(Checkpoint),
}

/// Records that belong together: make them durable in one step, then [`Book::apply`] them.
#[derive(Debug, Clone, Default)]
pub struct NewRecords {
    /// In the order in which they must be written.
    pub records: Vec<NewRecord>,
    effects: Effects,
}

/// What a frame adds, and what of it was left out.
#[derive(Debug, Default)]
pub struct Incoming {
    /// What to make durable.
    pub new: NewRecords,
    /// How many entries are new.
    pub entries: u64,
    /// Entries that were already held.
    pub known: u64,
    /// What was not let in, run by run.
    pub refused: Vec<GateError>,
}

#[derive(Debug, Clone, Default)]
struct Effects {
    logs: BTreeMap<LogId, Growth>,
    records: Vec<(LogId, u64, Record)>,
}

#[derive(Debug, Clone)]
struct Growth {
    head_seq: u64,
    head_hash: EntryHash,
    stamp: Stamp,
    seen: Vec<(u64, VersionVector)>,
    checkpoints: Vec<u64>,
}

#[derive(Debug, Clone, Default)]
struct LogState {
    head_seq: u64,
    head: Head,
    /// The latest stamp in it.
    stamp: Stamp,
    /// From which entry on which vector of other logs counts; cumulative.
    seen: Vec<(u64, Arc<VersionVector>)>,
    checkpoints: BTreeSet<u64>,
}

/// The head's hash, or the bytes from which it is computed when somebody asks.
#[derive(Debug, Clone)]
enum Head {
    Hash(EntryHash),
    Bytes(Vec<u8>),
}

impl Default for Head {
    fn default() -> Self {
        Self::Hash(EntryHash::ZERO)
    }
}

impl LogState {
    fn head_hash(&self, log: &LogId) -> EntryHash {
        match &self.head {
            Head::Hash(hash) => *hash,
            Head::Bytes(bytes) => entry::hash(log, bytes),
        }
    }

    fn learn_seen(&mut self, seq: u64, newly: &VersionVector) {
        if newly.is_empty() {
            return;
        }
        let mut whole = self
            .seen
            .last()
            .map(|(_, v)| VersionVector::clone(v))
            .unwrap_or_default();
        whole.merge(newly);
        self.seen.push((seq, Arc::new(whole)));
    }
}

struct Own {
    log: LogId,
    secret: DeviceSecret,
}

/// All logs of a node.
pub struct Book {
    own: Option<Own>,
    /// The logs that hold something that had seen what is not here, with the last entry before that.
    causal_gaps: BTreeMap<LogId, u64>,
    logs: BTreeMap<LogId, LogState>,
    roster: Roster,
    nothing: Arc<VersionVector>,
}

impl Book {
    /// An empty book whose roster hangs on `root`.
    pub fn new(root: Option<DeviceKey>) -> Self {
        let (logs, nothing) = (BTreeMap::new(), Arc::default());
        Self {
            own: None,
            causal_gaps: BTreeMap::new(),
            logs,
            roster: Roster::new(root),
            nothing,
        }
    }

    /// From here on `secret` writes `log`.
    pub fn write_as(&mut self, secret: DeviceSecret, log: LogId) {
        self.own = Some(Own { log, secret });
    }

    /// The log that this node writes.
    pub fn own_log(&self) -> Option<LogId> {
        self.own.as_ref().map(|own| own.log)
    }

    /// Signs with the key that writes the own log, for a stated purpose.
    pub fn sign(&self, context: &str, message: &[u8]) -> Option<[u8; 64]> {
        self.own.as_ref().map(|own| own.secret.sign(context, message))
    }

    /// Who may write, and what they are called.
    pub fn roster(&self) -> &Roster {
        &self.roster
    }

    /// To pin the root, or to take in credentials that were shown.
    pub fn roster_mut(&mut self) -> &mut Roster {
        &mut self.roster
    }

    /// Takes in an entry that is already durable here: called for each one at start, in order of arrival.
    ///
    /// # Errors
    /// [`EntryError`] when its header does not read; its place in the chain still counts.
    pub fn replay_entry(&mut self, log: LogId, seq: u64, bytes: &[u8]) -> Result<(), EntryError> {
        let state = self.logs.entry(log).or_default();
        state.head_seq = seq;
        match &mut state.head {
            Head::Bytes(old) => {
                old.clear();
                old.extend_from_slice(bytes);
            }
            Head::Hash(_) => state.head = Head::Bytes(bytes.to_vec()),
        }
        let header = Entry::header(bytes)?;
        state.stamp = state.stamp.max(header.stamp);
        state.learn_seen(seq, &header.seen);
        if header.is_governance() {
            self.learn_governance(log, seq, bytes);
        }
        Ok(())
    }

    /// Takes in a checkpoint that is already durable here.
    pub fn replay_checkpoint(&mut self, log: LogId, seq: u64) {
        self.logs.entry(log).or_default().checkpoints.insert(seq);
    }

    fn learn_governance(&mut self, log: LogId, seq: u64, bytes: &[u8]) {
        if let Ok(Entry {
            body: Body::Governance(json),
            ..
        }) = Entry::decode(bytes)
            && let Some(record) = Record::decode(&json)
        {
            self.roster.learn(&log, seq, record);
        }
    }

    /// What is held: per log, its head.
    pub fn vector(&self) -> VersionVector {
        self.logs.iter().map(|(log, state)| (*log, state.head_seq)).collect()
    }

    /// Looks for entries that had seen what is not here. Only a disk that has lost something makes that: call it once everything
    /// durable has been replayed. Such entries stay, and nobody else takes them in before what they had seen is found again;
    /// what is written here meanwhile does not say that it had seen them.
    pub fn find_causal_gaps(&mut self) {
        let mut closed = self.vector();
        loop {
            let lacks = |seen: &VersionVector| {
                seen.iter()
                    .any(|(other, want)| closed.get(&other) < want && !is_disowned(&self.roster, &other, want))
            };
            let found = self.logs.iter().find_map(|(log, state)| {
                let within = state.seen.iter().take_while(|(at, _)| *at <= closed.get(log));
                let (at, _) = within.into_iter().find(|(_, seen)| lacks(seen))?;
                Some((*log, at - 1))
            });
            let Some((log, last)) = found else { break };
            closed.cut(&log, last);
        }
        let cut = |(log, state): (&LogId, &LogState)| {
            let last = closed.get(log);
            (last < state.head_seq).then_some((*log, last))
        };
        self.causal_gaps = self.logs.iter().filter_map(cut).collect();
    }

    /// Whether everything that an entry had seen is here as well, and everything that those had seen.
    pub fn is_closed(&self, log: &LogId, seq: u64) -> bool {
        self.causal_gaps.get(log).is_none_or(|last| seq <= *last)
    }

    /// The last entry of a log that is closed.
    pub fn closed_head(&self, log: &LogId) -> u64 {
        self.causal_gaps.get(log).copied().unwrap_or_else(|| self.head(log).0)
    }

    /// The logs that hold something that is not closed, with the last entry before that.
    pub fn causal_gaps(&self) -> impl Iterator<Item = (LogId, u64)> + '_ {
        self.causal_gaps.iter().map(|(log, last)| (*log, *last))
    }

    /// What is held and counts: a retired device's logs only up to their last entries that do.
    pub fn counting(&self) -> VersionVector {
        let last = |log: &LogId, head: u64| match self.counts(log, head) {
            Ok(()) => head,
            Err(_) => self.roster.retired(&log.device).map_or(0, |cut| cut.get(log).min(head)),
        };
        let heads = self.logs.iter().map(|(log, state)| (*log, state.head_seq));
        heads.map(|(log, head)| (log, last(&log, head))).collect()
    }

    /// The head of a log: its seq and hash.
    pub fn head(&self, log: &LogId) -> (u64, EntryHash) {
        self.logs
            .get(log)
            .map_or((0, EntryHash::ZERO), |state| (state.head_seq, state.head_hash(log)))
    }

    /// BLAKE3 over (log, seq, head hash) of all logs: equal digests mean equal histories.
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

    /// What the writer of this entry had seen of other logs when it wrote it.
    pub fn seen_at(&self, log: &LogId, seq: u64) -> Arc<VersionVector> {
        let points = self
            .logs
            .get(log)
            .map(|state| state.seen.as_slice())
            .unwrap_or_default();
        let after = points.partition_point(|(from, _)| *from <= seq);
        let point = after.checked_sub(1).and_then(|i| points.get(i));
        point.map_or_else(|| Arc::clone(&self.nothing), |(_, vector)| Arc::clone(vector))
    }

    /// The first entry of `log` whose writer had seen entry `seq` of `other`.
    pub fn first_seen(&self, log: &LogId, other: &LogId, seq: u64) -> Option<u64> {
        let points = self.logs.get(log)?.seen.as_slice();
        // What was seen never goes back.
        let first = points.partition_point(|(_, vector)| !vector.includes(other, seq));
        points.get(first).map(|(at, _)| *at)
    }

    /// Everything that the writer of this entry knew when it wrote it, the entry included.
    pub fn known_at(&self, log: &LogId, seq: u64) -> VersionVector {
        let mut vector = VersionVector::clone(&self.seen_at(log, seq));
        vector.advance(*log, seq);
        vector
    }

    /// What a device certainly holds: whatever its newest entries had seen.
    pub fn known_by(&self, device: &DeviceKey) -> VersionVector {
        let mut vector = VersionVector::new();
        for (log, state) in self.logs.iter().filter(|(log, _)| log.device == *device) {
            vector.merge(&self.known_at(log, state.head_seq));
        }
        vector
    }

    /// The entries of a log at which something was newly seen, after `from` and up to `to`.
    pub fn seen_points(&self, log: &LogId, from: u64, to: u64) -> impl Iterator<Item = (u64, &VersionVector)> {
        let points = self
            .logs
            .get(log)
            .map(|state| state.seen.as_slice())
            .unwrap_or_default();
        let start = points.partition_point(|(at, _)| *at <= from);
        points
            .get(start..)
            .unwrap_or_default()
            .iter()
            .take_while(move |(at, _)| *at <= to)
            .map(|(at, v)| (*at, &**v))
    }

    /// The checkpoints of a log after `from` and up to `to`.
    pub fn checkpoints(&self, log: &LogId, from: u64, to: u64) -> impl Iterator<Item = u64> {
        let state = self.logs.get(log).filter(|_| from < to);
        state
            .into_iter()
            .flat_map(move |s| s.checkpoints.range(from + 1..=to).copied())
    }

    /// Whether an entry that is held still counts: its device may have been disowned or retired since.
    ///
    /// # Errors
    /// [`Refusal`], with the reason why it does not.
    pub fn counts(&self, log: &LogId, seq: u64) -> Result<(), Refusal> {
        self.roster.counts_for(self.own_log().map(|own| own.device), log, seq)
    }

    /// The place of the next own entry.
    pub fn next_seq(&self) -> u64 {
        self.own.as_ref().map_or(0, |own| self.head(&own.log).0 + 1)
    }

    /// The clock's reading for an event at `now_us`.
    pub fn stamp(&self, now_us: i64) -> Stamp {
        self.latest_stamp(now_us).tick(now_us)
    }

    /// The latest stamp that the next own one must exceed. It follows from what is held, so a restart changes nothing.
    ///
    /// A stamp of another device counts only while it is at most [`MAX_AHEAD_US`] ahead of `now_us`: its entry is taken in
    /// all the same, but a device whose clock is set to next year must not move ours there.
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
        let (mut seq, mut previous) = self.head(&own.log);
        let mut out = NewRecords::default();
        let mut stamp = self.latest_stamp(now_us);
        let mut newly = self.newly_seen(&own.log);
        let mut growth = Growth::at(seq, previous, stamp);
        let count = bodies.len();
        for (i, body) in bodies.into_iter().enumerate() {
            seq += 1;
            stamp = stamp.tick(now_us);
            let seen = std::mem::take(&mut newly);
            if let Body::Governance(json) = &body
                && let Some(record) = Record::decode(json)
            {
                out.effects.records.push((own.log, seq, record));
            }
            let bytes = Entry {
                previous,
                seq,
                stamp,
                seen: seen.clone(),
                body,
            }
            .encode();
            if bytes.len() > MAX_ENTRY_BYTES {
                return Err(WriteError::TooLong(bytes.len()));
            }
            previous = entry::hash(&own.log, &bytes);
            growth.grow(seq, previous, stamp, seen);
            out.records.push(NewRecord::Entry {
                log: own.log,
                seq,
                bytes,
            });
            if i + 1 == count || seq % EVERY == 0 {
                growth.checkpoints.push(seq);
                out.records.push(NewRecord::Checkpoint(Checkpoint::sign(
                    &own.secret,
                    own.log,
                    seq,
                    &previous,
                )));
            }
        }
        out.effects.logs.insert(own.log, growth);
        Ok(out)
    }

    fn newly_seen(&self, own: &LogId) -> VersionVector {
        let mut all = self.vector();
        self.causal_gaps().for_each(|(log, last)| all.cut(&log, last));
        all.cut(own, 0);
        all.beyond(&self.seen_at(own, u64::MAX))
    }

    /// Makes records count that are now durable.
    pub fn apply(&mut self, new: NewRecords) {
        let Effects { logs, records } = new.effects;
        for (log, growth) in logs {
            let state = self.logs.entry(log).or_default();
            state.head_seq = growth.head_seq;
            state.head = Head::Hash(growth.head_hash);
            state.stamp = state.stamp.max(growth.stamp);
            growth
                .seen
                .iter()
                .for_each(|(seq, newly)| state.learn_seen(*seq, newly));
            state.checkpoints.extend(growth.checkpoints);
        }
        for (log, seq, record) in records {
            self.roster.learn(&log, seq, record);
        }
        if !self.causal_gaps.is_empty() {
            self.find_causal_gaps();
        }
    }
}

/// Whether an entry would be refused for good, so that nobody may wait for it. Of a forked log one branch is held, and the
/// other is refused: whoever waited for that would be cut off from all who hold it.
fn is_disowned(roster: &Roster, log: &LogId, seq: u64) -> bool {
    let refused = matches!(
        roster.admits_entry(log, seq),
        Err(Refusal::Retired { .. } | Refusal::InviteUsed(_))
    );
    refused || roster.is_forked(log)
}

impl Growth {
    fn at(head_seq: u64, head_hash: EntryHash, stamp: Stamp) -> Self {
        Self {
            head_seq,
            head_hash,
            stamp,
            seen: Vec::new(),
            checkpoints: Vec::new(),
        }
    }

    fn grow(&mut self, seq: u64, hash: EntryHash, stamp: Stamp, seen: VersionVector) {
        (self.head_seq, self.head_hash, self.stamp) = (seq, hash, self.stamp.max(stamp));
        if !seen.is_empty() {
            self.seen.push((seq, seen));
        }
    }
}
