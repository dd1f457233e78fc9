//! Recording: facts into entries, entries into the journal, and only then a receipt.
//!
//! Facts of one job that follow each other share an entry; their order is never changed, because the order on one device
//! is the order of what happened. A batch of entries shares one fsync. A fact that this device has recorded before is not
//! recorded again: its receipt names the place where it stands.

use std::collections::BTreeSet;

use gladhand_facts::{Fact, FactId, Kind, Place};
use gladhand_logbook::Body;
use gladhand_logbook::jobdoc::JobDoc;
use gladhand_logbook::{Entry, entry::MAX_FACTS};

use crate::environment::text_of;
use crate::error::NodeError;
use crate::index_keys::doc_key;
use crate::node::Node;
use crate::progress::Silent;

/// How many bytes of facts one entry holds at most.
const ENTRY_BYTES: usize = 256 << 10;
/// How many documents are kept at hand between batches.
const DOCS_AT_HAND: usize = 512;

/// What became of a fact.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Taken {
    /// It is recorded, and durable.
    Recorded,
    /// This device had recorded it before.
    Already,
}

/// The proof that a fact is durable.
#[derive(Debug, Clone, PartialEq)]
pub struct Receipt {
    /// The fact.
    pub fact: Fact,
    /// Where it stands.
    pub place: Place,
    /// Whether it is new.
    pub taken: Taken,
}

/// A fact and where it will stand.
pub(crate) struct Planned {
    pub(crate) fact: Fact,
    pub(crate) place: Option<Place>,
}

impl Node {
    /// The key that facts are named with.
    pub fn device(&self) -> gladhand_facts::DeviceKey {
        self.book
            .own_log()
            .map_or(gladhand_facts::DeviceKey([0; 32]), |log| log.device)
    }

    /// Adds what the line left out: the job's name, the person, the time, and for a new job the yard and fleet.
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
    /// [`NodeError`]: nothing of this call is durable then, as all of it shares one write.
    pub fn record(&mut self, facts: Vec<Fact>) -> Result<Vec<Receipt>, NodeError> {
        // What could not be indexed the last time must be before anybody asks what was recorded before.
        self.catch_up(&Silent)?;
        self.start_incarnation()?;
        let mut planned = self.plan(facts)?;
        let outcome = self.write_planned(&mut planned);
        if outcome.is_err() || self.docs.len() > DOCS_AT_HAND {
            // After a failure the documents may hold changes that were never written.
            self.docs.clear();
        }
        let already = outcome?;
        // It is durable. If the index cannot be brought up to date now, the next query does it; the receipts stand.
        if let Err(error) = self.catch_up(&Silent) {
            tracing::warn!(%error, "what was recorded is durable, but not in the index yet: {error}");
        }
        let receipt = |p: Planned| {
            let place = p.place?;
            let taken = if already.contains(&p.fact.id()) {
                Taken::Already
            } else {
                Taken::Recorded
            };
            Some(Receipt {
                fact: p.fact,
                place,
                taken,
            })
        };
        let mut fresh = BTreeSet::new();
        let mut receipts: Vec<Receipt> = planned.into_iter().filter_map(receipt).collect();
        for receipt in receipts.iter_mut().filter(|r| r.taken == Taken::Recorded) {
            if !fresh.insert(receipt.fact.id()) {
                receipt.taken = Taken::Already;
            }
        }
        Ok(receipts)
    }

    /// Looks up which facts this device has recorded before.
    fn plan(&self, facts: Vec<Fact>) -> Result<Vec<Planned>, NodeError> {
        let mut planned = Vec::with_capacity(facts.len());
        for mut fact in facts {
            let place = self.index.own_fact(&fact.id())?;
            // Also for one that is here: whoever lost the first receipt learns the name from the second.
            name_job(&mut fact);
            if place.is_none() {
                self.fill(&mut fact);
            }
            planned.push(Planned { fact, place });
        }
        Ok(planned)
    }

    /// Writes what is new and fills in the places. Returns the facts that were there before.
    pub(crate) fn write_planned(&mut self, planned: &mut [Planned]) -> Result<BTreeSet<FactId>, NodeError> {
        let already: BTreeSet<FactId> = planned
            .iter()
            .filter(|p| p.place.is_some())
            .map(|p| p.fact.id())
            .collect();
        let mut placed: std::collections::BTreeMap<FactId, Place> = std::collections::BTreeMap::new();
        let Some((log, first)) = self.book.next_place() else {
            return Ok(already);
        };
        let mut bodies = Vec::new();
        let mut group: Vec<Fact> = Vec::new();
        let mut group_bytes = 0;
        for item in planned.iter_mut().filter(|p| p.place.is_none()) {
            let id = item.fact.id();
            if let Some(place) = placed.get(&id) {
                item.place = Some(*place);
                continue;
            }
            let bytes = item.fact.stored().len();
            let full = group.len() as u64 >= MAX_FACTS / 8 || group_bytes + bytes > ENTRY_BYTES;
            let joins = group.first().is_none_or(|f| f.text("job") == item.fact.text("job"));
            if full || !joins {
                let seq = first + bodies.len() as u64;
                bodies.push(self.body(seq, &std::mem::take(&mut group))?);
                group_bytes = 0;
            }
            let place = Place {
                log,
                seq: first + bodies.len() as u64,
                index: u32::try_from(group.len()).map_err(|_| NodeError::TooManyFacts(group.len()))?,
            };
            placed.insert(id, place);
            item.place = Some(place);
            group_bytes += bytes;
            group.push(item.fact.clone());
        }
        if !group.is_empty() {
            bodies.push(self.body(first + bodies.len() as u64, &group)?);
        }
        if !bodies.is_empty() {
            let new = self.book.write(bodies, self.environment.now_us())?;
            self.commit(new)?;
        }
        Ok(already)
    }

    /// The body for facts that share a job, or that have none.
    fn body(&mut self, seq: u64, facts: &[Fact]) -> Result<Body, NodeError> {
        let Some(job) = facts.first().and_then(|f| f.text("job").map(|j| j.into_owned())) else {
            return Ok(Body::Loose(facts.iter().map(Fact::stored).collect()));
        };
        let Some(log) = self.book.own_log() else {
            return Err(gladhand_logbook::WriteError::NoOwnLog.into());
        };
        let time_s = self.environment.now_us().div_euclid(1_000_000);
        let wrong = |source| NodeError::Doc {
            job: job.clone(),
            source,
        };
        if !self.docs.contains_key(&job) {
            let doc = self.load_doc(&job)?;
            self.docs.insert(job.clone(), doc);
        }
        let change = match self.docs.get_mut(&job) {
            Some(doc) => doc.write(log, seq, time_s, facts).map_err(wrong)?,
            None => return Err(wrong(gladhand_logbook::jobdoc::DocError::NotReversible)),
        };
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

/// A new job gets a name that follows from the line alone.
fn name_job(fact: &mut Fact) {
    if *fact.kind() == Kind::Job && fact.text("job").is_none() {
        let job = fact.made_up_job();
        fact.fill("job", job);
    }
}
