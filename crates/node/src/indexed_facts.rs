//! The merged facts as the reconciler takes them, read from index and journal on demand: all that count here, or those that
//! counted for a device at a moment ([`Past`]).
//!
//! Deliberately read-only, and without the whole history in memory; `facts_at` makes a [`MemoryFacts`] where that is cheaper.
//!
//! Invariant: both give the same findings. The trait [`Facts`] cannot fail, so the first failure is kept, and results may only be
//! used after [`IndexedFacts::failure`].

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use gladhand_facts::{DeviceKey, LogId, Place};
use gladhand_logbook::roster::Roster;
use gladhand_logbook::{Body, Entry};
use gladhand_reconcile::names::spelling;
use gladhand_reconcile::{Class, Facts, Fork, MemoryFacts, Names, NearIndex, RecordedFact, Sight, Subject};
use gladhand_store::RecordKind;

use crate::catch_up::entry_facts;
use crate::error::NodeError;
use crate::forks;
use crate::index_keys::{ENDED, key_of, listed_key, listed_subject};
use crate::node::Node;
use crate::past::Past;

/// How many decoded entries are cached.
const MAX_CACHED: usize = 4_096;

type Read = Arc<Vec<Arc<RecordedFact>>>;

/// How many facts about subjects that were asked for are kept at hand. The rules ask for the same subjects again and again.
const MAX_ABOUT: usize = 16_384;

/// The facts about subjects that were asked for.
#[derive(Default)]
struct Abouts {
    subjects: BTreeMap<Subject, Vec<Arc<RecordedFact>>>,
    facts: usize,
}

impl Abouts {
    fn keep(&mut self, subject: &Subject, facts: &[Arc<RecordedFact>]) {
        // One more for each, so that those without any count too.
        let more = facts.len() + 1;
        if self.facts + more > MAX_ABOUT {
            *self = Self::default();
        }
        if more <= MAX_ABOUT {
            self.facts += more;
            self.subjects.insert(subject.clone(), facts.to_vec());
        }
    }
}

/// See the module doc.
pub struct IndexedFacts<'n> {
    node: &'n Node,
    past: Option<&'n Past>,
    read: RefCell<BTreeMap<(LogId, u64), Read>>,
    about: RefCell<Abouts>,
    near: RefCell<BTreeMap<Class, NearIndex>>,
    near_listed: RefCell<BTreeMap<Class, NearIndex>>,
    failure: RefCell<Option<NodeError>>,
}

impl<'n> IndexedFacts<'n> {
    /// All facts that count at `node`.
    pub fn new(node: &'n Node) -> Self {
        Self::at(node, None)
    }

    /// The facts that counted at a moment; `None`: all that count.
    pub fn at(node: &'n Node, past: Option<&'n Past>) -> Self {
        Self {
            node,
            past,
            read: RefCell::default(),
            about: RefCell::default(),
            near: RefCell::default(),
            near_listed: RefCell::default(),
            failure: RefCell::default(),
        }
    }

    /// Whether all facts could be read so far.
    ///
    /// # Errors
    /// The first failure.
    pub fn failure(&self) -> Result<(), NodeError> {
        self.failure.take().map_or(Ok(()), Err)
    }

    pub(crate) fn counts(&self, log: &LogId, seq: u64) -> bool {
        match self.past {
            Some(past) => past.counts(log, seq),
            None => self.node.book.counts(log, seq).is_ok(),
        }
    }

    /// Whether an entry is held and counts.
    fn holds(&self, log: &LogId, seq: u64) -> bool {
        self.counts(log, seq) && self.node.book.vector().includes(log, seq)
    }

    fn roster(&self) -> &Roster {
        self.past.map_or_else(|| self.node.book.roster(), Past::roster)
    }

    /// The facts that a device recorded, or all devices, in the order of the places.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub(crate) fn recorded_by(&self, device: Option<DeviceKey>) -> Result<Vec<Arc<RecordedFact>>, NodeError> {
        let vector = self
            .past
            .map_or_else(|| self.node.book.vector(), |p| p.vector().clone());
        let mut found = Vec::new();
        for (log, head) in vector.iter().filter(|(log, _)| device.is_none_or(|d| d == log.device)) {
            for entry in self.node.journal.entries(&log, 1, head) {
                let (seq, bytes) = entry?;
                if self.counts(&log, seq) {
                    found.extend(recorded_facts(self.node, &log, seq, &bytes));
                }
            }
        }
        Ok(found)
    }

    /// The facts of one entry.
    pub(crate) fn entry(&self, log: &LogId, seq: u64) -> Result<Read, NodeError> {
        if let Some(read) = self.read.borrow().get(&(*log, seq)) {
            return Ok(Arc::clone(read));
        }
        let bytes = self.node.entry_bytes(log, seq)?;
        let read = Arc::new(recorded_facts(self.node, log, seq, &bytes));
        let mut cache = self.read.borrow_mut();
        if cache.len() >= MAX_CACHED {
            cache.clear();
        }
        cache.insert((*log, seq), Arc::clone(&read));
        Ok(read)
    }

    /// The forks that are known.
    pub(crate) fn known_forks(&self) -> Vec<Fork> {
        forks::forks(self.roster(), &|log, seq| self.holds(log, seq))
    }

    fn jobs_of_log(&self, log: &LogId, from_seq: u64) -> Result<BTreeSet<String>, NodeError> {
        let mut jobs = BTreeSet::new();
        for entry in self.node.journal.entries(log, from_seq, self.node.book.head(log).0) {
            let (seq, bytes) = entry?;
            // A body that cannot be read names no job; it is reported elsewhere.
            let body = Entry::decode(&bytes).map(|entry| entry.body);
            if let Ok(Body::Change { job, .. }) = body
                && self.counts(log, seq)
            {
                jobs.insert(job);
            }
        }
        Ok(jobs)
    }

    fn fetch(&self, subject: &Subject) -> Result<Vec<Arc<RecordedFact>>, NodeError> {
        let mut found = Vec::new();
        for Place { log, seq, index } in self.node.index.about(&subject.to_key())? {
            if !self.counts(&log, seq) {
                continue;
            }
            let read = self.entry(&log, seq)?;
            found.extend(read.get(index as usize).cloned());
        }
        Ok(found)
    }

    /// The subjects of `class` whose names begin with `start`, sorted, also those that are only named by entries that do not count.
    fn filed(&self, class: Class, start: &str) -> Result<Vec<Subject>, NodeError> {
        let probe = Subject::from_text(class, start).unwrap_or(Subject::Device(DeviceKey([0; 32])));
        let mut prefix = probe.to_key();
        // Without the mark that ends a text. A device's key cannot be given in part, so only the class is used.
        let without_end = if class == Class::Device {
            1
        } else {
            prefix.len().saturating_sub(2)
        };
        prefix.truncate(without_end);
        let mut found = Vec::new();
        for key in self.node.index.subjects(&prefix) {
            found.extend(Subject::from_key(&key?).map(|(subject, _)| subject));
        }
        found.sort();
        Ok(found)
    }

    /// The names of the class that stock lists name, also those that only entries name which do not count.
    fn listed(&self, class: Class) -> Result<Vec<String>, NodeError> {
        let any = Subject::from_text(class, "").map(|s| s.to_key()).unwrap_or_default();
        let tag = any.get(..1).unwrap_or_default();
        let mut found = Vec::new();
        for key in self.node.index.subjects(&listed_key(tag)) {
            let key = key?;
            let subject = listed_subject(&key).and_then(Subject::from_key);
            found.extend(subject.map(|(subject, _)| subject.text().into_owned()));
        }
        Ok(found)
    }

    /// The subjects of `class` whose names begin with `start`, sorted.
    pub fn beginning(&self, class: Class, start: &str) -> Vec<Subject> {
        let mut found = self.or_default(self.filed(class, start));
        found.retain(|subject| !self.about(subject).is_empty());
        found
    }

    /// The names of the jobs without a sign-off or stand-down. No facts are read.
    pub fn open_jobs(&self) -> Vec<String> {
        let ended = |job: &str| {
            let places = self.node.index.about(&key_of(ENDED, job))?;
            Ok(places.iter().any(|p| self.counts(&p.log, p.seq)))
        };
        let mut names: Vec<String> = self
            .subjects(Class::Job)
            .iter()
            .map(|s| s.text().into_owned())
            .collect();
        names.retain(|job| !self.or_default(ended(job)));
        names
    }

    /// Keeps the first failure and goes on with nothing in its place; see [`IndexedFacts::failure`].
    fn or_default<T: Default>(&self, outcome: Result<T, NodeError>) -> T {
        outcome.unwrap_or_else(|e| {
            self.failure.borrow_mut().get_or_insert(e);
            T::default()
        })
    }
}

impl Facts for IndexedFacts<'_> {
    fn about(&self, subject: &Subject) -> Vec<Arc<RecordedFact>> {
        if let Some(known) = self.about.borrow().subjects.get(subject) {
            return known.clone();
        }
        let facts = self.or_default(self.fetch(subject));
        self.about.borrow_mut().keep(subject, &facts);
        facts
    }

    fn first_places(&self, subject: &Subject) -> Vec<Place> {
        let mut places = self.or_default(self.node.index.about(&subject.to_key()).map_err(NodeError::from));
        places.retain(|place| self.counts(&place.log, place.seq));
        places.sort();
        places.dedup_by_key(|place| place.log);
        places
    }

    fn subjects(&self, class: Class) -> Vec<Subject> {
        let mut found = self.or_default(self.filed(class, ""));
        let all_count = self.past.is_none() && self.node.book.vector() == self.node.counting_vector();
        if !all_count {
            // Some entries do not count. A subject that only they name is none.
            found.retain(|subject| !self.about(subject).is_empty());
        }
        found
    }

    /// The index of near names is made once for each class, on the first call, because it needs all names of the class.
    fn near(&self, class: Class, code: &str) -> Vec<String> {
        let mut known = self.near.borrow_mut();
        let index = known.entry(class).or_insert_with(|| {
            let filed = self.or_default(self.filed(class, ""));
            NearIndex::of(filed.iter().map(|s| s.text().into_owned()))
        });
        index.near(code)
    }

    fn near_listed(&self, class: Class, code: &str) -> Vec<String> {
        let mut known = self.near_listed.borrow_mut();
        let index = known
            .entry(class)
            .or_insert_with(|| NearIndex::of(self.or_default(self.listed(class))));
        index.near(code)
    }

    fn forks(&self) -> Vec<Fork> {
        self.known_forks()
    }

    /// Only the entries of that log are read, and no facts.
    fn jobs_in(&self, log: &LogId, from_seq: u64) -> BTreeSet<String> {
        self.or_default(self.jobs_of_log(log, from_seq))
    }

    /// The entry's number comes from the book; only that entry is read, for its stamp.
    fn first_sight(&self, log: &LogId, place: &Place) -> Option<Sight> {
        let seq = self.node.book.first_seen(log, &place.log, place.seq)?;
        let stamp = self.or_default(self.node.entry_stamp(log, seq))?;
        Some(Sight { seq, stamp })
    }
}

/// The names on the roster: the current one, or the one of the moment.
impl Names for IndexedFacts<'_> {
    fn device_name(&self, device: &DeviceKey) -> String {
        self.roster().name(device)
    }

    fn spelling(&self, subject: &Subject) -> String {
        spelling(self, subject)
    }
}

/// The facts of an entry with what their recorder had seen. Empty when its body does not read.
fn recorded_facts(node: &Node, log: &LogId, seq: u64, bytes: &[u8]) -> Vec<Arc<RecordedFact>> {
    let Ok(entry) = Entry::decode(bytes) else {
        return Vec::new();
    };
    let seen = node.book.seen_at(log, seq);
    // A body that cannot be read has no facts; `status` and `verify` report it.
    let facts = entry_facts(log, &entry.body).unwrap_or_default();
    let recorded = |(index, fact)| {
        let place = Place { log: *log, seq, index };
        Arc::new(RecordedFact {
            fact,
            place,
            stamp: entry.stamp,
            seen: Arc::clone(&seen),
        })
    };
    (0u32..).zip(facts).map(recorded).collect()
}

impl Node {
    /// All facts that count, in memory: for judging everything at once.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn all_facts(&self) -> Result<MemoryFacts, NodeError> {
        self.facts_at(None)
    }

    /// All facts that counted at a moment, in memory; `None`: all that count.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub(crate) fn facts_at(&self, past: Option<&Past>) -> Result<MemoryFacts, NodeError> {
        let mut facts = MemoryFacts::default();
        let indexed = IndexedFacts::at(self, past);
        for batch in self.journal.scan_from(gladhand_store::Position::START) {
            for record in batch?.records().filter(|r| r.kind == RecordKind::Entry) {
                if indexed.counts(&record.log, record.seq) {
                    self.note_sight(&mut facts, &record.log, record.seq, record.bytes);
                    recorded_facts(self, &record.log, record.seq, record.bytes)
                        .into_iter()
                        .for_each(|w| facts.insert(w));
                }
            }
        }
        indexed.forks().into_iter().for_each(|fork| facts.note_fork(fork));
        Ok(facts)
    }

    /// Notes an entry at which its writer had newly seen something.
    fn note_sight(&self, facts: &mut MemoryFacts, log: &LogId, seq: u64, bytes: &[u8]) {
        if let Ok(header) = Entry::header(bytes)
            && !header.seen.is_empty()
        {
            let sight = Sight {
                seq,
                stamp: header.stamp,
            };
            facts.note_sight(*log, sight, self.book.seen_at(log, seq));
        }
    }
}
