//! The merged facts as the reconciler wants them, fetched from index and journal as they are asked for.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::{DeviceKey, LogId, Place};
use gladhand_logbook::Entry;
use gladhand_reconcile::facts::{Fork, Sight};
use gladhand_reconcile::{Class, Facts, MemoryFacts, NearIndex, Subject, Witness};
use gladhand_store::RecordKind;

use super::{Node, NodeError, entry_facts};

/// How many entries are kept read.
const AT_HAND: usize = 4_096;

type Read = Arc<Vec<Arc<Witness>>>;

/// Facts by subject, through the index. The trait cannot fail, so a failure is kept: ask [`Shelf::failure`] before using
/// what came of it.
pub struct Shelf<'n> {
    node: &'n Node,
    read: RefCell<BTreeMap<(LogId, u64), Read>>,
    near: RefCell<BTreeMap<Class, NearIndex>>,
    failure: RefCell<Option<NodeError>>,
}

impl<'n> Shelf<'n> {
    /// A shelf over all that `node` holds.
    pub fn new(node: &'n Node) -> Self {
        Self {
            node,
            read: RefCell::default(),
            near: RefCell::default(),
            failure: RefCell::default(),
        }
    }

    /// The first thing that went wrong while facts were fetched.
    ///
    /// # Errors
    /// That thing.
    pub fn failure(&self) -> Result<(), NodeError> {
        self.failure.take().map_or(Ok(()), Err)
    }

    /// The facts of one entry.
    pub(super) fn entry(&self, log: &LogId, seq: u64) -> Result<Read, NodeError> {
        if let Some(read) = self.read.borrow().get(&(*log, seq)) {
            return Ok(Arc::clone(read));
        }
        let bytes = self.node.journal.read_entry(log, seq)?.unwrap_or_default();
        let read = Arc::new(witnesses(self.node, log, seq, &bytes));
        let mut at_hand = self.read.borrow_mut();
        if at_hand.len() >= AT_HAND {
            at_hand.clear();
        }
        at_hand.insert((*log, seq), Arc::clone(&read));
        Ok(read)
    }

    fn fetch(&self, subject: &Subject) -> Result<Vec<Arc<Witness>>, NodeError> {
        let mut found = Vec::new();
        for Place { log, seq, index } in self.node.index.about(&subject.to_key())? {
            if self.node.book.counts(&log, seq).is_err() {
                continue;
            }
            let read = self.entry(&log, seq)?;
            found.extend(read.get(index as usize).cloned());
        }
        Ok(found)
    }

    fn keep<T: Default>(&self, outcome: Result<T, NodeError>) -> T {
        outcome.unwrap_or_else(|e| {
            self.failure.borrow_mut().get_or_insert(e);
            T::default()
        })
    }
}

impl Facts for Shelf<'_> {
    fn about(&self, subject: &Subject) -> Vec<Arc<Witness>> {
        self.keep(self.fetch(subject))
    }

    fn subjects(&self, class: Class) -> Vec<Subject> {
        let probe = Subject::from_text(class, &DeviceKey([0; 32]).to_string());
        let prefix = probe.and_then(|s| s.to_key().first().copied()).unwrap_or_default();
        let keys = self.node.index.subjects(&[prefix]).collect::<Result<Vec<_>, _>>();
        let keys = self.keep(keys.map_err(NodeError::from));
        let mut found: Vec<Subject> = keys
            .iter()
            .filter_map(|k| Subject::from_key(k))
            .map(|(s, _)| s)
            .collect();
        if self.node.book.vector() != self.node.counting_vector() {
            // Some entries do not count any more: what only they named is no subject.
            found.retain(|subject| !self.about(subject).is_empty());
        }
        found.sort();
        found
    }

    /// Made once for a class, on the first question: a look over all its names costs too much to be done for each.
    fn near(&self, class: Class, code: &str) -> Vec<String> {
        if !self.near.borrow().contains_key(&class) {
            let mut index = NearIndex::default();
            self.subjects(class).iter().for_each(|s| index.insert(&s.text()));
            self.near.borrow_mut().insert(class, index);
        }
        self.near
            .borrow()
            .get(&class)
            .map(|index| index.near(code))
            .unwrap_or_default()
    }

    fn device_name(&self, device: &DeviceKey) -> String {
        self.node.book.roster().name(device)
    }

    fn forks(&self) -> Vec<Fork> {
        forks(self.node)
    }

    /// Where is known from the book's vectors; only the one entry is read, for its stamp.
    fn first_sight(&self, log: &LogId, place: &Place) -> Option<Sight> {
        let seq = self.node.book.first_seen(log, &place.log, place.seq)?;
        let bytes = self.keep(self.node.journal.read_entry(log, seq).map_err(NodeError::from))?;
        let stamp = Entry::front(&bytes).ok()?.stamp;
        Some(Sight { seq, stamp })
    }
}

/// The facts of an entry with what their recorder had seen. Empty when its body does not read.
fn witnesses(node: &Node, log: &LogId, seq: u64, bytes: &[u8]) -> Vec<Arc<Witness>> {
    let Ok(entry) = Entry::decode(bytes) else {
        return Vec::new();
    };
    let seen = node.book.seen_at(log, seq);
    let facts = entry_facts(log, &entry.body).unwrap_or_default();
    let witness = |(index, fact)| {
        let place = Place { log: *log, seq, index };
        Arc::new(Witness {
            fact,
            place,
            stamp: entry.stamp,
            seen: Arc::clone(&seen),
        })
    };
    (0u32..).zip(facts).map(witness).collect()
}

fn forks(node: &Node) -> Vec<Fork> {
    let hash = |text: &String| -> Option<[u8; 32]> {
        data_encoding::HEXLOWER_PERMISSIVE
            .decode(text.as_bytes())
            .ok()?
            .try_into()
            .ok()
    };
    let fork = |f: gladhand_logbook::roster::Fork| {
        let hashes = f.hashes.iter().filter_map(hash).collect();
        Fork {
            log: f.log,
            seq: f.seq,
            hashes,
            evidence: f.evidence.map(|(log, seq)| Place { log, seq, index: 0 }),
        }
    };
    node.book.roster().forks().into_iter().map(fork).collect()
}

impl Node {
    /// All facts that count, in memory: for judging everything at once.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn all_facts(&self) -> Result<MemoryFacts, NodeError> {
        let mut facts = MemoryFacts::default();
        for batch in self.journal.scan_from(gladhand_store::Position::START) {
            for record in batch?.records().filter(|r| r.kind == RecordKind::Entry) {
                if self.book.counts(&record.log, record.seq).is_ok() {
                    self.note_sight(&mut facts, &record.log, record.seq, record.bytes);
                    witnesses(self, &record.log, record.seq, record.bytes)
                        .into_iter()
                        .for_each(|w| facts.insert(w));
                }
            }
        }
        for device in self.book.roster().devices() {
            facts.name(device, self.book.roster().name(&device));
        }
        forks(self).into_iter().for_each(|fork| facts.note_fork(fork));
        Ok(facts)
    }

    /// Notes an entry at which its writer had newly seen something.
    fn note_sight(&self, facts: &mut MemoryFacts, log: &LogId, seq: u64, bytes: &[u8]) {
        if let Ok(front) = Entry::front(bytes)
            && !front.seen.is_empty()
        {
            let sight = Sight {
                seq,
                stamp: front.stamp,
            };
            facts.note_sight(*log, sight, self.book.seen_at(log, seq));
        }
    }
}
