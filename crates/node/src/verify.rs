//! Verifying: everything on disk is read back and checked: batches, hash chains, signatures, pictures, and the index against the
//! journal.
//!
//! Deliberately changes nothing: a broken index is only reported, `verify --rebuild` makes it anew.
//!
//! Invariant: verifying goes on after a fault, so that one run reports them all.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::{LogId, Place};
use gladhand_logbook::Entry;
use gladhand_logbook::checkpoint::{Checkpoint, ENTRIES_PER_CHECKPOINT};
use gladhand_logbook::entry::{self, EntryHash};
use gladhand_store::{Record, RecordKind};

use crate::catch_up::entry_facts;
use crate::catch_up::keys_of;
use crate::error::NodeError;
use crate::node::Node;
use crate::progress::Progress;

/// One fault.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Where it is: a file, or a log with an entry.
    pub place: String,
    /// What is wrong there.
    pub what: String,
}

/// The result of verifying.
#[derive(Debug, Default)]
pub struct Verified {
    /// Entries read.
    pub entries: u64,
    /// Signatures checked.
    pub signatures: u64,
    /// Pictures read.
    pub pictures: u64,
    /// The faults.
    pub wrong: Vec<Fault>,
}

/// The hash chain of one log, as far as it was read.
#[derive(Default)]
struct Chain {
    seq: u64,
    hash: Option<EntryHash>,
    signed: u64,
    /// Hashes of the entries that a checkpoint may sign later: the entries of a run from a peer are all written before its
    /// checkpoints.
    signable: BTreeMap<u64, EntryHash>,
}

/// Postings in any order, added up: their number and the sum of their hashes. Equal sums mean equal postings, as far as accidents go,
/// and a sum needs no memory for the postings of a long history.
#[derive(Debug, Default, PartialEq, Eq)]
struct Postings {
    count: u64,
    sum: u128,
}

impl Postings {
    fn add(&mut self, key: &[u8], place: &Place) {
        let mut hasher = blake3::Hasher::new();
        hasher.update(&(key.len() as u64).to_le_bytes()).update(key);
        hasher
            .update(&place.log.device.0)
            .update(&place.log.incarnation.to_le_bytes())
            .update(&place.seq.to_le_bytes())
            .update(&place.index.to_le_bytes());
        let mut hash = [0; 16];
        hasher.finalize_xof().fill(&mut hash);
        self.count += 1;
        self.sum = self.sum.wrapping_add(u128::from_le_bytes(hash));
    }
}

struct Checker<'n> {
    node: &'n Node,
    chains: BTreeMap<LogId, Chain>,
    /// What the index should hold.
    expected: Postings,
    done: Verified,
}

impl Node {
    /// Reads everything back and checks it.
    ///
    /// # Errors
    /// When the disk cannot be read.
    pub fn verify(&self, progress: &dyn Progress) -> Result<Verified, NodeError> {
        let mut checker = Checker {
            node: self,
            chains: BTreeMap::new(),
            expected: Postings::default(),
            done: Verified::default(),
        };
        let total = self.book.vector().entries();
        let damage = self.journal.verify(&mut |record, _| {
            checker.check_record(record);
            if checker.done.entries.is_multiple_of(1_000) {
                progress.tick("verifying", checker.done.entries, total);
            }
        })?;
        for found in self.damage.iter().chain(&damage) {
            let (place, said) = (found.file.display().to_string(), found.to_string());
            let what = said.strip_prefix(&format!("{place}: ")).unwrap_or(&said).to_owned();
            checker.wrong(place, what);
        }
        for open in self.open_gaps() {
            checker.wrong(format!("log {} of {}", open.gap.log, open.name), open.words());
        }
        if self.home.mark_was_damaged() {
            let place = self.home.layout().mark().display().to_string();
            checker.wrong(
                place,
                "it was damaged; this device goes on in a new log, and nothing is lost",
            );
        }
        checker.check_heads();
        checker.check_index()?;
        checker.check_pictures()?;
        Ok(checker.done)
    }
}

impl Checker<'_> {
    fn wrong(&mut self, place: String, what: impl ToString) {
        self.done.wrong.push(Fault {
            place,
            what: what.to_string(),
        });
    }

    fn check_record(&mut self, record: &Record<'_>) {
        match record.kind {
            RecordKind::Entry => self.check_entry(record),
            RecordKind::Checkpoint => self.check_checkpoint(record),
            RecordKind::Other(_) => {}
        }
    }

    fn check_entry(&mut self, record: &Record<'_>) {
        self.done.entries += 1;
        let (log, seq) = (record.log, record.seq);
        let place = format!("log {log} entry {seq}");
        let chain = self.chains.entry(log).or_default();
        let before = chain.hash.unwrap_or(EntryHash::ZERO);
        let hash = entry::hash(&log, record.bytes);
        (chain.seq, chain.hash) = (seq, Some(hash));
        if seq.is_multiple_of(ENTRIES_PER_CHECKPOINT) {
            chain.signable.insert(seq, hash);
        }
        let entry = match Entry::decode(record.bytes) {
            Ok(entry) => entry,
            Err(e) => return self.wrong(place, e),
        };
        if entry.previous != before || entry.seq != seq {
            self.wrong(place.clone(), "it does not follow the entry before it");
        }
        match entry_facts(&log, &entry.body) {
            Ok(facts) => self.expect(&log, &entry, &facts),
            Err(e) => {
                // The index files an entry whose facts cannot be read under its kind alone.
                self.expect(&log, &entry, &[]);
                self.wrong(place, e);
            }
        }
    }

    /// Notes under which keys the index should hold an entry.
    fn expect(&mut self, log: &LogId, entry: &Entry, facts: &[gladhand_facts::Fact]) {
        let postings: BTreeSet<_> = keys_of(log, entry, facts).into_iter().collect();
        for (key, place) in postings {
            self.expected.add(&key, &place);
        }
    }

    /// Checks each 256th checkpoint and the newest. Those between sign nothing that these do not sign as well.
    fn check_checkpoint(&mut self, record: &Record<'_>) {
        let newest = self.node.journal.newest_checkpoint(&record.log);
        if !record.seq.is_multiple_of(ENTRIES_PER_CHECKPOINT) && newest != Some(record.seq) {
            return;
        }
        let chain = self.chains.entry(record.log).or_default();
        let at_head = chain.hash.filter(|_| chain.seq == record.seq);
        let hash = at_head.or_else(|| chain.signable.get(&record.seq).copied());
        let signature = <[u8; 64]>::try_from(record.bytes).ok();
        let good = hash.zip(signature).is_some_and(|(hash, signature)| {
            Checkpoint {
                log: record.log,
                seq: record.seq,
                signature,
            }
            .vouches_for(&hash)
        });
        if good {
            chain.signed = chain.signed.max(record.seq);
            self.done.signatures += 1;
        } else {
            self.wrong(
                format!("log {} checkpoint {}", record.log, record.seq),
                "the signature does not verify",
            );
        }
    }

    fn check_heads(&mut self) {
        let unsigned: Vec<(LogId, u64)> = self
            .chains
            .iter()
            .filter(|(_, c)| c.signed < c.seq)
            .map(|(log, c)| (*log, c.seq))
            .collect();
        for (log, seq) in unsigned {
            self.wrong(
                format!("log {log} entry {seq}"),
                "no signature vouches for the end of this log",
            );
        }
    }

    fn check_index(&mut self) -> Result<(), NodeError> {
        let hint = "the index does not agree with the journal; `gladhand verify --rebuild` makes it anew";
        let place = self.node.home.layout().index().display().to_string();
        // An index that cannot be read does not agree, for whatever reason: the remedy is the same.
        if self.held_postings().ok().as_ref() != Some(&self.expected) {
            self.wrong(place, hint);
        }
        Ok(())
    }

    fn held_postings(&self) -> Result<Postings, NodeError> {
        let mut held = Postings::default();
        for key in self.node.index.subjects(&[]) {
            let key = key?;
            for place in self.node.index.about(&key)? {
                held.add(&key, &place);
            }
        }
        Ok(held)
    }

    fn check_pictures(&mut self) -> Result<(), NodeError> {
        let pictures = self.node.pictures();
        self.done.pictures = pictures.list()?.len() as u64;
        for bad in pictures.verify()? {
            let place = pictures.path(&bad).display().to_string();
            self.wrong(
                place,
                "the picture is not what its name says; it comes back with a peer's bundle",
            );
        }
        Ok(())
    }
}
