//! Recording: facts become entries, entries go to the journal, and then there are receipts.
//!
//! Consecutive facts of one job share an entry. All entries of a call share one fsync. A fact that this device has recorded before
//! is not recorded again: its receipt names the place where it stands.
//!
//! Deliberately absent: judging. Recording never fails because facts contradict each other; only a withdrawal may be refused
//! (`withdrawal`).
//!
//! Invariants: a receipt is only given for a fact that is durable; the order of facts is kept, because the order on one device is
//! the order in which things happened; of a call either all new facts are recorded or none.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::{Fact, FactId, Kind, LogId, Place};
use gladhand_logbook::jobdoc::JobDoc;
use gladhand_logbook::{Body, WriteError};
use gladhand_logbook::{Entry, entry::MAX_FACTS};

use crate::environment::text_of;
use crate::error::{NodeError, RecordError};
use crate::index_keys::doc_key;
use crate::node::Node;
use crate::progress::Silent;

/// How many bytes of facts one entry holds at most.
const ENTRY_BYTES: usize = 256 << 10;
/// How many documents are kept in memory between calls.
const MAX_DOCS: usize = 512;

/// The outcome of recording a fact.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RecordOutcome {
    /// It is newly recorded, and durable.
    Recorded,
    /// This device had recorded it before, or it stands earlier in the same call.
    Already,
}

/// The proof that a fact is durable.
#[derive(Debug, Clone, PartialEq)]
pub struct Receipt {
    /// The fact.
    pub fact: Fact,
    /// Where it stands.
    pub place: Place,
    /// Whether it is newly recorded.
    pub taken: RecordOutcome,
}

/// A fact to record, and the place where it stands or will stand.
pub(crate) struct Planned {
    pub(crate) fact: Fact,
    pub(crate) place: Option<Place>,
}

impl Node {
    /// This device's key.
    pub fn device(&self) -> gladhand_facts::DeviceKey {
        self.device
    }

    /// Adds what the line left out: the name of a new job, the person, the time.
    pub fn fill(&self, fact: &mut Fact) {
        name_job(fact);
        if !self.config.person.is_empty() {
            fact.fill("by", self.config.person.as_str());
        }
        if fact.get("at").is_none() {
            fact.fill("at", text_of(self.environment.now_us()));
        }
    }

    /// Records facts, in order. On return all of them are durable.
    ///
    /// # Errors
    /// [`RecordError`]: nothing of this call is durable then, as all of it shares one write.
    pub fn record(&mut self, mut facts: Vec<Fact>) -> Result<Vec<Receipt>, RecordError> {
        // What was recorded before is looked up in the index, so it must be up to date. The last call may have failed to do that.
        self.catch_up(&Silent)?;
        self.file_withdrawals(&mut facts)?;
        Ok(self.record_checked(facts)?)
    }

    /// Records facts that may be recorded. The index must be up to date.
    pub(crate) fn record_checked(&mut self, facts: Vec<Fact>) -> Result<Vec<Receipt>, NodeError> {
        self.start_incarnation()?;
        let mut planned = self.plan(facts)?;
        let outcome = self.write_planned(&mut planned);
        if outcome.is_err() || self.docs.len() > MAX_DOCS {
            // After a failure the documents may hold changes that were never written.
            self.docs.clear();
        }
        let already = outcome?;
        // The facts are durable. If the index cannot be brought up to date now, the next query does it; the receipts are valid.
        if let Err(error) = self.catch_up(&Silent) {
            tracing::warn!(%error, "what was recorded is durable, but not in the index yet: {error}");
        }
        Ok(receipts(planned, already))
    }

    /// Looks up which facts this device has recorded before.
    fn plan(&self, facts: Vec<Fact>) -> Result<Vec<Planned>, NodeError> {
        let mut planned = Vec::with_capacity(facts.len());
        for mut fact in facts {
            let place = self.index.fact(&fact.id())?;
            match place {
                None => {
                    self.fill(&mut fact);
                    self.note(&mut fact)?;
                }
                // If the first receipt was lost, the second tells the name that the job was given then.
                Some(_) => self.recall_job(&mut fact)?,
            }
            planned.push(Planned { fact, place });
        }
        Ok(planned)
    }

    /// Fills in the job that the device noted with a fact when it recorded it.
    fn recall_job(&self, fact: &mut Fact) -> Result<(), NodeError> {
        if fact.text("job").is_some() || !matches!(fact.kind(), Kind::Job | Kind::Withdraw) {
            return Ok(());
        }
        let stored = self.fact(&fact.id())?;
        if let Some(job) = stored.and_then(|recorded| recorded.owned("job")) {
            fact.fill("job", job);
        }
        Ok(())
    }

    /// Writes what is new and fills in the places. Returns the facts that were there before.
    pub(crate) fn write_planned(&mut self, planned: &mut [Planned]) -> Result<BTreeSet<FactId>, NodeError> {
        let already: BTreeSet<FactId> = planned
            .iter()
            .filter(|p| p.place.is_some())
            .map(|p| p.fact.id())
            .collect();
        let mut batch = Batch::new(self.book.next_place().ok_or(WriteError::NoOwnLog)?);
        if planned.iter().any(|p| p.place.is_none()) {
            batch.bodies = self.waiting_bodies()?;
        }
        for item in planned.iter_mut().filter(|p| p.place.is_none()) {
            if let Some(place) = batch.placed.get(&item.fact.id()) {
                item.place = Some(*place);
                continue;
            }
            let bytes = item.fact.stored().len();
            if !batch.takes(&item.fact, bytes) {
                self.close_entry(&mut batch)?;
            }
            item.place = Some(batch.add(&item.fact, bytes)?);
        }
        if !batch.group.is_empty() {
            self.close_entry(&mut batch)?;
        }
        if !batch.bodies.is_empty() {
            let new = self.book.write(batch.bodies, self.environment.now_us())?;
            self.commit(new)?;
            self.forget_waiting();
        }
        Ok(already)
    }

    /// Makes the facts that are collected in the batch an entry. Before a fact that is longer than an entry there may be none: such
    /// an empty entry is valid, and logs have always had it there.
    fn close_entry(&mut self, batch: &mut Batch) -> Result<(), NodeError> {
        let facts = std::mem::take(&mut batch.group);
        batch.group_bytes = 0;
        let body = self.body(batch.seq(), &facts)?;
        batch.bodies.push(body);
        Ok(())
    }

    /// The body for facts that share a job, or that have none.
    fn body(&mut self, seq: u64, facts: &[Fact]) -> Result<Body, NodeError> {
        let Some(job) = facts.first().and_then(|f| f.text("job").map(|j| j.into_owned())) else {
            return Ok(Body::Loose(facts.iter().map(Fact::stored).collect()));
        };
        let Some(log) = self.book.own_log() else {
            return Err(WriteError::NoOwnLog.into());
        };
        let time_s = self.environment.now_us().div_euclid(1_000_000);
        let wrong = |source| NodeError::Doc {
            job: job.clone(),
            source,
        };
        let mut doc = match self.docs.remove(&job) {
            Some(doc) => doc,
            None => self.load_doc(&job)?,
        };
        // A document whose write failed is dropped: it may hold half of the change.
        let change = doc.write(log, seq, time_s, facts).map_err(wrong)?;
        self.docs.insert(job.clone(), doc);
        Ok(Body::Change { job, change })
    }

    /// The document of a job as far as it is known here.
    ///
    /// # Errors
    /// [`NodeError`] when its entries cannot be read.
    pub fn load_doc(&self, job: &str) -> Result<JobDoc, NodeError> {
        let mut changes = Vec::new();
        for place in self.index.about(&doc_key(job))? {
            let counts = self.book.counts(&place.log, place.seq).is_ok();
            if !counts || !self.book.is_closed(&place.log, place.seq) {
                continue;
            }
            let Some(bytes) = self.journal.read_entry(&place.log, place.seq)? else {
                continue;
            };
            // An entry that cannot be read changes no document.
            if let Ok(Entry {
                body: Body::Change { change, .. },
                ..
            }) = Entry::decode(&bytes)
            {
                changes.push(((place.log, place.seq), change));
            }
        }
        let wrong = |source| NodeError::Doc {
            job: job.to_owned(),
            source,
        };
        JobDoc::load(job, changes.iter().map(|(place, change)| (*place, change.as_slice()))).map_err(wrong)
    }
}

/// The receipts of a call. `known` are the facts that were recorded before; of equal facts only the first is new.
fn receipts(planned: Vec<Planned>, mut known: BTreeSet<FactId>) -> Vec<Receipt> {
    // `write_planned` has given every fact its place.
    let placed = planned.into_iter().filter_map(|p| Some((p.fact, p.place?)));
    let receipt = |(fact, place): (Fact, Place)| {
        let is_new = known.insert(fact.id());
        let taken = if is_new {
            RecordOutcome::Recorded
        } else {
            RecordOutcome::Already
        };
        Receipt { fact, place, taken }
    };
    placed.map(receipt).collect()
}

/// The entries of one call while they are put together.
struct Batch {
    log: LogId,
    /// The number of the first entry.
    first: u64,
    bodies: Vec<Body>,
    /// The facts of the next entry.
    group: Vec<Fact>,
    group_bytes: usize,
    placed: BTreeMap<FactId, Place>,
}

impl Batch {
    fn new((log, first): (LogId, u64)) -> Self {
        Self {
            log,
            first,
            bodies: Vec::new(),
            group: Vec::new(),
            group_bytes: 0,
            placed: BTreeMap::new(),
        }
    }

    /// The number of the next entry.
    fn seq(&self) -> u64 {
        self.first + self.bodies.len() as u64
    }

    /// Whether the next entry has room for `fact`, of `bytes`, and the same job.
    fn takes(&self, fact: &Fact, bytes: usize) -> bool {
        let full = self.group.len() as u64 >= MAX_FACTS / 8 || self.group_bytes + bytes > ENTRY_BYTES;
        let same_job = self.group.first().is_none_or(|f| f.text("job") == fact.text("job"));
        !full && same_job
    }

    /// Adds a fact to the next entry. Returns its place.
    fn add(&mut self, fact: &Fact, bytes: usize) -> Result<Place, NodeError> {
        let count = self.group.len();
        let place = Place {
            log: self.log,
            seq: self.seq(),
            index: u32::try_from(count).map_err(|_| NodeError::TooManyFacts(count))?,
        };
        self.placed.insert(fact.id(), place);
        self.group_bytes += bytes;
        self.group.push(fact.clone());
        Ok(place)
    }
}

/// A new job gets a name that follows from the line alone.
fn name_job(fact: &mut Fact) {
    if *fact.kind() == Kind::Job && fact.text("job").is_none() {
        let job = fact.made_up_job();
        fact.fill("job", job);
    }
}
