//! One Automerge document per job, and the stripped form of its changes in log entries.
//!
//! A document has three things at its root, made by a deterministic first change (fixed actor, time 0), so that
//! every device starts the same job from the same bytes: `job` (its name), `fields` (the job's fields, one scalar
//! each, with all concurrent values) and `facts` (one canonical JSON text per fact). Keys in `facts` are
//! `TAG.SEQ.INDEX` (author's log, place, position), unique without coordination.
//!
//! **Stripped form.** An Automerge change contains its checksum, the hashes of its dependencies and its actor. All of them
//! follow from the log: the actor is the log, and a dependency is the change at some place of some log. So an entry has places
//! instead of hashes, and everything after the actor verbatim:
//!
//! | part | bytes |
//! |---|---|
//! | dependencies | varint count, then each: 0 = the first change; 1, varint seq = own log; 2, key 32, varint incarnation, varint seq = another log |
//! | tail | the raw change from its `seq` on (Automerge storage format, change chunk) |
//!
//! [`JobDoc::write`] rebuilds the change from the stripped form and compares, before it returns anything.
//!
//! Not here: what the facts mean. Findings never depend on documents, only on the facts inside the entries, so a
//! change that Automerge refuses is set aside here ([`JobDoc::set_aside`]) without any other effect.

use std::collections::BTreeMap;

use automerge::transaction::{CommitOptions, Transactable};
use automerge::{ActorId, AutoCommit, Change, ChangeHash, ObjId, ObjType, ROOT, ReadDoc};
use gladhand_facts::{Fact, LogId};
use serde_json::Value;

use crate::wire::Reader;

mod apply;
mod error;
mod facts;
mod fields;
mod stripped;

use apply::apply;
pub use error::DocError;
use error::{guarded, refused};
pub use facts::facts_in;
use facts::{GENESIS_ACTOR, MAX_OP};
pub use stripped::EntryPlace;
use stripped::{actor_bytes, actor_of, in_order, put_deps, raw_change, raw_tail, read_deps};

/// A field's value, and the place that set it.
pub type FieldValue = (Value, Option<EntryPlace>);

/// A job's document, with the places of its changes.
pub struct JobDoc {
    doc: AutoCommit,
    facts: ObjId,
    fields: ObjId,
    genesis: ChangeHash,
    hashes: BTreeMap<EntryPlace, ChangeHash>,
    places: BTreeMap<ChangeHash, EntryPlace>,
    /// The last operation counter of each change.
    max_ops: BTreeMap<ChangeHash, u64>,
    aside: Vec<(EntryPlace, DocError)>,
}

impl JobDoc {
    /// The document of a new job.
    ///
    /// # Errors
    /// [`DocError::Refused`] if Automerge fails.
    pub fn new(job: &str) -> Result<Self, DocError> {
        let mut doc = AutoCommit::new().with_actor(ActorId::from(GENESIS_ACTOR));
        doc.put(ROOT, "job", job).map_err(refused)?;
        let fields = doc.put_object(ROOT, "fields", ObjType::Map).map_err(refused)?;
        let facts = doc.put_object(ROOT, "facts", ObjType::Map).map_err(refused)?;
        let genesis = doc
            .commit_with(CommitOptions::default().with_time(0))
            .ok_or_else(|| DocError::Refused("the first change is empty".into()))?;
        let (hashes, places, aside) = (BTreeMap::new(), BTreeMap::new(), Vec::new());
        let first = doc.get_last_local_change();
        let first = first.ok_or_else(|| DocError::Refused("the first change is not in the document".into()))?;
        let max_ops = BTreeMap::from([(genesis, first.max_op())]);
        Ok(Self {
            doc,
            facts,
            fields,
            genesis,
            hashes,
            places,
            max_ops,
            aside,
        })
    }

    /// The document with these changes, in any order. Those that Automerge refuses are set aside, the others applied.
    ///
    /// # Errors
    /// [`DocError::Refused`] only if not even the first change can be made.
    pub fn load<'a>(job: &str, changes: impl IntoIterator<Item = (EntryPlace, &'a [u8])>) -> Result<Self, DocError> {
        let changes = in_order(changes.into_iter().collect());
        let mut doc = Self::new(job)?;
        if doc.add_all(&changes).is_ok() {
            return Ok(doc);
        }
        // At least one is bad: apply them one by one, so that only the bad ones are set aside.
        let mut doc = Self::new(job)?;
        for (place, change) in changes {
            doc.add(place, change);
        }
        Ok(doc)
    }

    /// Adds one change; one that cannot be applied is set aside.
    pub fn add(&mut self, place: EntryPlace, stripped: &[u8]) {
        let mut scratch = self.doc.clone();
        let outcome = self.rebuild(&place.0, stripped).and_then(|change| {
            let (hash, max_op) = (change.hash(), change.max_op());
            apply(&mut scratch, vec![change]).map(|()| (hash, max_op))
        });
        match outcome {
            Ok((hash, max_op)) => {
                self.doc = scratch;
                self.remember(place, hash, max_op);
            }
            Err(e) => self.aside.push((place, e)),
        }
    }

    fn add_all(&mut self, changes: &[(EntryPlace, &[u8])]) -> Result<(), DocError> {
        let mut ready = Vec::with_capacity(changes.len());
        for (place, stripped) in changes {
            let change = self.rebuild(&place.0, stripped)?;
            self.remember(*place, change.hash(), change.max_op());
            ready.push(change);
        }
        apply(&mut self.doc, ready)
    }

    fn remember(&mut self, place: EntryPlace, hash: ChangeHash, max_op: u64) {
        self.max_ops.insert(hash, max_op);
        self.hashes.insert(place, hash);
        self.places.insert(hash, place);
    }

    /// What could not be applied, with the reasons.
    pub fn set_aside(&self) -> &[(EntryPlace, DocError)] {
        &self.aside
    }

    /// How many changes the document has, without the first one.
    pub fn len(&self) -> usize {
        self.hashes.len()
    }

    /// Whether it has only the first change.
    pub fn is_empty(&self) -> bool {
        self.hashes.is_empty()
    }

    /// Writes `facts` as one change, to be entry `seq` of `log`, and returns its stripped form.
    ///
    /// # Errors
    /// [`DocError`]; the document may then have the change although nothing was written, so drop it.
    pub fn write(&mut self, log: LogId, seq: u64, time_s: i64, facts: &[Fact]) -> Result<Vec<u8>, DocError> {
        let [a, b, c, d, ..] = actor_bytes(&log);
        let tag = format!("{:08x}", u32::from_be_bytes([a, b, c, d]));
        self.doc.set_actor(actor_of(&log));
        let (doc, facts_map, fields_map) = (&mut self.doc, &self.facts, &self.fields);
        let change = guarded(|| {
            for (index, fact) in facts.iter().enumerate() {
                doc.put(facts_map, format!("{tag}.{seq}.{index}"), fact.stored())
                    .map_err(refused)?;
                for (name, value) in fact.fields() {
                    fields::set_field(doc, fields_map, name, fields::scalar(value)).map_err(refused)?;
                }
            }
            doc.commit_with(CommitOptions::default().with_time(time_s));
            doc.get_last_local_change().ok_or(DocError::NotReversible)
        })?;
        let stripped = self.strip(&log, &change)?;
        let again = self.rebuild(&log, &stripped)?;
        if again.hash() != change.hash() {
            return Err(DocError::NotReversible);
        }
        self.remember((log, seq), change.hash(), change.max_op());
        Ok(stripped)
    }

    fn strip(&self, log: &LogId, change: &Change) -> Result<Vec<u8>, DocError> {
        let raw = raw_tail(change.raw_bytes())?;
        let place_of = |dep: &ChangeHash| match self.places.get(dep) {
            None if *dep == self.genesis => Ok(None),
            Some(place) => Ok(Some(*place)),
            None => Err(DocError::NotReversible),
        };
        let deps: Vec<Option<EntryPlace>> = change.deps().iter().map(place_of).collect::<Result<_, _>>()?;
        let mut out = Vec::with_capacity(raw.len() + 8);
        put_deps(&mut out, log, &deps);
        out.extend_from_slice(raw);
        Ok(out)
    }

    fn rebuild(&self, log: &LogId, stripped: &[u8]) -> Result<Change, DocError> {
        let mut reader = Reader::new(stripped);
        let mut deps = Vec::new();
        for dep in read_deps(log, &mut reader)? {
            deps.push(match dep {
                None => self.genesis,
                Some((log, seq)) => *self
                    .hashes
                    .get(&(log, seq))
                    .ok_or(DocError::MissingDependency { log, seq })?,
            });
        }
        let raw = raw_change(&deps, &actor_of(log), reader.rest());
        let change = guarded(|| Change::from_bytes(raw).map_err(|e| DocError::Refused(e.to_string())))?;
        self.check_start(&deps, &change)?;
        Ok(change)
    }

    /// An honest device continues the operation counter of what its change depends on. A change that skips numbers would use
    /// them up for all devices: a document at the end of the counter accepts no more changes.
    fn check_start(&self, deps: &[ChangeHash], change: &Change) -> Result<(), DocError> {
        let last = deps.iter().filter_map(|dep| self.max_ops.get(dep)).max();
        // A change that depends on nothing begins the counter.
        let (start, next) = (change.start_op().get(), last.map_or(1, |last| last.saturating_add(1)));
        if start == next && change.max_op() <= MAX_OP {
            return Ok(());
        }
        Err(DocError::OutOfBounds(format!(
            "operation counter {start} where {next} is next"
        )))
    }

    /// The job's fields: each name with all its concurrent values, as JSON, and the place that set each. A value that is an
    /// object, which no honest device writes, reads as null.
    ///
    /// # Errors
    /// [`DocError::Refused`] if Automerge cannot read a field.
    pub fn field_values(&self) -> Result<BTreeMap<String, Vec<FieldValue>>, DocError> {
        let mut out = BTreeMap::new();
        for name in self.doc.keys(&self.fields) {
            let values = self.doc.get_all(&self.fields, name.as_str()).map_err(refused)?;
            let with_places = values.into_iter().map(|(value, opid)| {
                let place = self.doc.hash_for_opid(&opid).and_then(|h| self.places.get(&h).copied());
                (value.into_scalar().map_or(Value::Null, |s| fields::json_of(&s)), place)
            });
            out.insert(name, with_places.collect());
        }
        Ok(out)
    }

    /// The canonical JSON texts of all facts in the document, in the order of their keys. Values that are no texts, which no
    /// honest device writes, are left out.
    pub fn fact_texts(&self) -> Vec<String> {
        self.doc
            .map_range(&self.facts, ..)
            .filter_map(|item| item.value.into_value().into_string().ok())
            .collect()
    }

    /// The document as a standard Automerge file.
    ///
    /// # Errors
    /// [`DocError::Refused`] if Automerge cannot write it.
    pub fn save(&mut self) -> Result<Vec<u8>, DocError> {
        let doc = &mut self.doc;
        guarded(|| Ok(doc.save()))
    }

    /// The hashes of the document's heads, sorted, as hexadecimal text.
    pub fn heads(&mut self) -> Vec<String> {
        let mut heads: Vec<String> = self.doc.get_heads().iter().map(ToString::to_string).collect();
        heads.sort();
        heads
    }
}

#[cfg(test)]
#[path = "jobdoc_tests.rs"]
mod tests;
