//! One Automerge document per job, and the stripped form in which its changes stand in log entries.
//!
//! A document has three things at its root, made by a deterministic first change (fixed actor, time 0), so that
//! every device starts the same job from the same bytes: `job` (its name), `fields` (the job's fields, one scalar
//! each, concurrent values side by side) and `facts` (one canonical JSON text per fact). Keys under `facts` are
//! `TAG.SEQ.INDEX` (author's log, place, position), unique without coordination.
//!
//! **Stripped form.** An Automerge change carries its hash's checksum, its dependencies' hashes and its actor. All
//! of them follow from the log: the actor is the log, and a dependency is the change that stands at some place in
//! some log. So an entry holds places instead of hashes, and everything after the actor verbatim:
//!
//! | part | bytes |
//! |---|---|
//! | dependencies | varint count, then each: 0 = the first change; 1, varint seq = own log; 2, key 32, varint incarnation, varint seq = another log |
//! | tail | the raw change from its `seq` on (Automerge storage format, change chunk) |
//!
//! [`JobDoc::write`] rebuilds what it stripped and compares before it hands anything out.
//!
//! Not here: what the facts mean. Findings never depend on documents, only on the facts inside the entries, so a
//! change that Automerge refuses is set aside here ([`JobDoc::set_aside`]) and costs nothing else.

use std::collections::{BTreeMap, BTreeSet};
use std::panic::{AssertUnwindSafe, catch_unwind};

use automerge::transaction::{CommitOptions, Transactable};
use automerge::{ActorId, AutoCommit, Change, ChangeHash, ObjId, ObjType, ROOT, ReadDoc, ScalarValue};
use gladhand_facts::{DeviceKey, Fact, LogId};
use serde_json::Value;
use sha2::{Digest, Sha256};

use crate::entry::MAX_FACTS;
use crate::wire::{self, Reader, WireError};

const GENESIS_ACTOR: &[u8] = b"gladhand";
const MAGIC: [u8; 4] = [0x85, 0x6f, 0x4a, 0x83];
const CHUNK_CHANGE: u8 = 1;
const MAX_DEPS: u64 = 4_096;
/// Operation counters beyond this are no honest job: a job of four thousand facts has four thousand.
const MAX_OP: u64 = 1 << 24;

/// Where an entry stands: its log and its seq.
pub type EntryPlace = (LogId, u64);

/// Why a change could not be written, read or applied.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DocError {
    /// The stripped form does not read.
    #[error("change: {0}")]
    Wire(#[from] WireError),
    /// A dependency that is not in the document.
    #[error("change depends on entry {seq} of log {log}, which the document does not hold")]
    MissingDependency {
        /// Its log.
        log: LogId,
        /// Its place.
        seq: u64,
    },
    /// Automerge refused it, or panicked over it.
    #[error("change refused: {0}")]
    Refused(String),
    /// It is not of the shape that this version writes, nor harmless.
    #[error("change is out of bounds: {0}")]
    OutOfBounds(String),
    /// What was stripped did not come back the same.
    #[error("a change did not survive stripping; nothing was written")]
    NotReversible,
    /// A fact inside does not read.
    #[error("fact inside a change: {0}")]
    Fact(String),
}

/// A job's document, with the places of its changes.
pub struct JobDoc {
    doc: AutoCommit,
    facts: ObjId,
    fields: ObjId,
    genesis: ChangeHash,
    hashes: BTreeMap<EntryPlace, ChangeHash>,
    places: BTreeMap<ChangeHash, EntryPlace>,
    /// The last operation counter of each change.
    tops: BTreeMap<ChangeHash, u64>,
    aside: Vec<(EntryPlace, DocError)>,
}

/// The Automerge actor of a log: the first 16 bytes of the BLAKE3 of its name. A copied home takes a new
/// incarnation, hence a new actor, so no two writers ever share one.
pub fn actor_of(log: &LogId) -> ActorId {
    let mut hasher = blake3::Hasher::new_derive_key("gladhand 2026 document actor 1");
    hasher.update(&log.device.0).update(&log.incarnation.to_le_bytes());
    ActorId::from(hasher.finalize().as_bytes().get(..16).unwrap_or_default())
}

impl JobDoc {
    /// The document of a job that nothing is known of yet.
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
        let top = doc.get_last_local_change().map_or(0, |change| change.max_op());
        let tops = BTreeMap::from([(genesis, top)]);
        Ok(Self {
            doc,
            facts,
            fields,
            genesis,
            hashes,
            places,
            tops,
            aside,
        })
    }

    /// The document with these changes, in whatever order they come. What Automerge refuses is set aside and the rest
    /// goes on.
    ///
    /// # Errors
    /// [`DocError::Refused`] only if not even the first change can be made.
    pub fn load<'a>(job: &str, changes: impl IntoIterator<Item = (EntryPlace, &'a [u8])>) -> Result<Self, DocError> {
        let changes = in_order(changes.into_iter().collect());
        let mut doc = Self::new(job)?;
        if doc.add_all(&changes).is_ok() {
            return Ok(doc);
        }
        // Something in there is bad: go one by one, so that only the bad ones stay out.
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
            let (hash, top) = (change.hash(), change.max_op());
            apply(&mut scratch, vec![change]).map(|()| (hash, top))
        });
        match outcome {
            Ok((hash, top)) => {
                self.doc = scratch;
                self.remember(place, hash, top);
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

    fn remember(&mut self, place: EntryPlace, hash: ChangeHash, top: u64) {
        self.tops.insert(hash, top);
        self.hashes.insert(place, hash);
        self.places.insert(hash, place);
    }

    /// What could not be applied, with the reasons.
    pub fn set_aside(&self) -> &[(EntryPlace, DocError)] {
        &self.aside
    }

    /// How many changes the document holds, the first one not counted.
    pub fn len(&self) -> usize {
        self.hashes.len()
    }

    /// Whether nothing but the first change is in it.
    pub fn is_empty(&self) -> bool {
        self.hashes.is_empty()
    }

    /// Writes `facts` as one change that will stand at entry `seq` of `log`, and returns its stripped form.
    ///
    /// # Errors
    /// [`DocError`]; the document may then hold the change although nothing was written: drop it.
    pub fn write(&mut self, log: LogId, seq: u64, time_s: i64, facts: &[Fact]) -> Result<Vec<u8>, DocError> {
        let actor = actor_of(&log);
        let tag = actor.to_hex_string();
        let tag = tag.get(..8).unwrap_or_default();
        self.doc.set_actor(actor);
        let (doc, facts_map, fields_map) = (&mut self.doc, &self.facts, &self.fields);
        let change = guarded(|| {
            for (index, fact) in facts.iter().enumerate() {
                doc.put(facts_map, format!("{tag}.{seq}.{index}"), fact.stored())
                    .map_err(refused)?;
                for (name, value) in fact.fields() {
                    set_field(doc, fields_map, name, scalar(value)).map_err(refused)?;
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
        let mut out = Vec::with_capacity(raw.len() + 8);
        wire::put_number(&mut out, change.deps().len() as u64);
        for dep in change.deps() {
            match self.places.get(dep) {
                None if *dep == self.genesis => out.push(0),
                None => return Err(DocError::NotReversible),
                Some((own, seq)) if own == log => {
                    out.push(1);
                    wire::put_number(&mut out, *seq);
                }
                Some((other, seq)) => {
                    out.push(2);
                    wire::put_log(&mut out, other);
                    wire::put_number(&mut out, *seq);
                }
            }
        }
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

    /// An honest writer counts on from what its change depends on. One that skips numbers would use them up for everybody: a
    /// document at the end of the counter takes no more work.
    fn check_start(&self, deps: &[ChangeHash], change: &Change) -> Result<(), DocError> {
        let top = deps.iter().filter_map(|dep| self.tops.get(dep)).max();
        let (start, next) = (change.start_op().get(), top.map_or(1, |top| top.saturating_add(1)));
        if start == next && change.max_op() <= MAX_OP {
            return Ok(());
        }
        Err(DocError::OutOfBounds(format!(
            "operation counter {start} where {next} is next"
        )))
    }

    /// The job's fields: each name with all its concurrent values, as JSON, and the place that set each.
    pub fn field_values(&self) -> BTreeMap<String, Vec<(Value, Option<EntryPlace>)>> {
        let mut out = BTreeMap::new();
        for name in self.doc.keys(&self.fields) {
            let values = self.doc.get_all(&self.fields, name.as_str()).unwrap_or_default();
            let with_places = values.into_iter().map(|(value, opid)| {
                let place = self.doc.hash_for_opid(&opid).and_then(|h| self.places.get(&h).copied());
                (value.into_scalar().map_or(Value::Null, |s| json_of(&s)), place)
            });
            out.insert(name, with_places.collect());
        }
        out
    }

    /// The canonical JSON texts of all facts in the document, in the order of their keys.
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

/// Applies changes, and fails unless the document holds all of them and still reads back after it is saved. Then the document
/// is of no further use.
///
/// Automerge applies some changes that no honest writer encodes so, and then writes a document that it cannot read. Whether
/// a change is among those must not depend on what else it is loaded with: two devices would hold different documents.
fn apply(doc: &mut AutoCommit, changes: Vec<Change>) -> Result<(), DocError> {
    if changes.is_empty() {
        return Ok(());
    }
    guarded(|| {
        let hashes: Vec<ChangeHash> = changes.iter().map(Change::hash).collect();
        doc.apply_changes(changes).map_err(refused)?;
        let held: BTreeSet<ChangeHash> = doc.get_changes(&[]).iter().map(Change::hash).collect();
        // What depends on something that is missing waits in a queue, and Automerge says nothing about it.
        if !hashes.iter().all(|hash| held.contains(hash)) {
            return Err(DocError::Refused("it is not in the document afterwards".into()));
        }
        let heads = doc.get_heads();
        check_readable(&doc.save(), &heads)
    })
}

/// Whether a saved document reads back to these heads. Reading checks the hash of every change in it.
fn check_readable(saved: &[u8], heads: &[ChangeHash]) -> Result<(), DocError> {
    let again = AutoCommit::load(saved).map_err(refused)?.get_heads();
    if again == heads {
        Ok(())
    } else {
        Err(DocError::Refused("the saved document reads back to other heads".into()))
    }
}

/// Puts changes into an order in which each comes after its dependencies; what depends on something that is not there
/// comes last.
fn in_order(mut waiting: Vec<(EntryPlace, &[u8])>) -> Vec<(EntryPlace, &[u8])> {
    waiting.sort_by_key(|(place, _)| *place);
    let mut placed = BTreeSet::new();
    let mut ordered = Vec::with_capacity(waiting.len());
    loop {
        let before = waiting.len();
        waiting.retain(|(place, stripped)| {
            let deps = read_deps(&place.0, &mut Reader::new(stripped)).unwrap_or_default();
            let ready = deps.into_iter().flatten().all(|dep| placed.contains(&dep));
            if ready {
                placed.insert(*place);
                ordered.push((*place, *stripped));
            }
            !ready
        });
        if waiting.len() == before {
            ordered.append(&mut waiting);
            return ordered;
        }
    }
}

/// The facts inside a stripped change, without any document: what the reconciler reads. Also the gate's check:
/// whatever this accepts has been read once, in bounds and under guard.
///
/// # Errors
/// [`DocError`], with what is wrong.
pub fn facts_in(log: &LogId, stripped: &[u8]) -> Result<Vec<Fact>, DocError> {
    let mut reader = Reader::new(stripped);
    let deps = vec![ChangeHash([0; 32]); read_deps(log, &mut reader)?.len()];
    let raw = raw_change(&deps, &actor_of(log), reader.rest());
    let texts = guarded(|| {
        let change = Change::from_bytes(raw).map_err(|e| DocError::Refused(e.to_string()))?;
        fact_texts(&change)
    })?;
    texts.iter().map(|text| fact(&log.device, text)).collect()
}

fn fact(device: &DeviceKey, text: &str) -> Result<Fact, DocError> {
    Fact::from_stored(device, text).map_err(|e| DocError::Fact(e.to_string()))
}

/// Texts put under the `facts` map (its object was made by the third operation of the first change).
fn fact_texts(change: &Change) -> Result<Vec<String>, DocError> {
    use automerge::legacy::{Key, ObjectId, OpType};
    if change.start_op().get() > MAX_OP || change.len() as u64 > MAX_OP || change.seq() > MAX_OP {
        return Err(DocError::OutOfBounds(format!(
            "operation counter {}",
            change.start_op()
        )));
    }
    let genesis = ActorId::from(GENESIS_ACTOR);
    let mut texts = Vec::new();
    for op in change.decode().operations {
        let in_facts = matches!(&op.obj, ObjectId::Id(id) if id.counter() == 3 && *id.actor() == genesis);
        if let (true, Key::Map(_), OpType::Put(ScalarValue::Str(text))) = (in_facts, &op.key, &op.action) {
            texts.push(text.to_string());
        }
    }
    if texts.len() as u64 > MAX_FACTS {
        Err(DocError::OutOfBounds("too many facts".into()))
    } else {
        Ok(texts)
    }
}

fn read_deps(log: &LogId, reader: &mut Reader<'_>) -> Result<Vec<Option<EntryPlace>>, WireError> {
    let mut deps = Vec::new();
    for _ in 0..reader.count(MAX_DEPS, "dependencies of a change")? {
        deps.push(match reader.byte("a dependency")? {
            0 => None,
            1 => Some((*log, reader.number("a dependency")?)),
            2 => Some((reader.log("a dependency")?, reader.number("a dependency")?)),
            _ => return Err(WireError::Number("a dependency")),
        });
    }
    Ok(deps)
}

/// What follows the actor in a raw change chunk.
fn raw_tail(raw: &[u8]) -> Result<&[u8], DocError> {
    let mut reader = Reader::new(raw);
    reader.take(8, "a chunk's header")?;
    if reader.byte("a chunk's type")? != CHUNK_CHANGE {
        return Err(DocError::NotReversible);
    }
    reader.number("a chunk's length")?;
    let deps = reader.count(MAX_DEPS, "dependencies of a change")?;
    reader.take(deps * 32, "dependencies of a change")?;
    reader.blob(64, "a change's actor")?;
    Ok(reader.rest())
}

/// A change chunk from its parts: the inverse of [`raw_tail`].
fn raw_change(deps: &[ChangeHash], actor: &ActorId, tail: &[u8]) -> Vec<u8> {
    let mut data = Vec::with_capacity(tail.len() + deps.len() * 32 + 20);
    wire::put_number(&mut data, deps.len() as u64);
    deps.iter().for_each(|d| data.extend_from_slice(&d.0));
    wire::put_blob(&mut data, actor.to_bytes());
    data.extend_from_slice(tail);
    let mut hashed = vec![CHUNK_CHANGE];
    wire::put_number(&mut hashed, data.len() as u64);
    hashed.extend_from_slice(&data);
    let mut raw = Vec::with_capacity(hashed.len() + 8);
    raw.extend_from_slice(&MAGIC);
    raw.extend_from_slice(Sha256::digest(&hashed).get(..4).unwrap_or_default());
    raw.extend_from_slice(&hashed);
    raw
}

/// Sets a field, also to the value that it already has: saying it again is a new write, which must stand beside
/// a concurrent one. Automerge would leave out such a `put`, so the old value goes first.
fn set_field(
    doc: &mut AutoCommit,
    fields: &ObjId,
    name: &str,
    value: ScalarValue,
) -> Result<(), automerge::AutomergeError> {
    let same = doc
        .get(fields, name)?
        .is_some_and(|(old, _)| old.as_scalar() == Some(&value));
    if same {
        doc.delete(fields, name)?;
    }
    doc.put(fields, name, value)
}

fn refused(e: automerge::AutomergeError) -> DocError {
    DocError::Refused(e.to_string())
}

/// Runs what may panic on hostile bytes. Automerge 0.12 does, even on bytes whose checksum is right.
fn guarded<T>(work: impl FnOnce() -> Result<T, DocError>) -> Result<T, DocError> {
    catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|_| Err(DocError::Refused("Automerge panicked over it".into())))
}

fn scalar(value: &Value) -> ScalarValue {
    match value {
        Value::Null => ScalarValue::Null,
        Value::Bool(b) => ScalarValue::Boolean(*b),
        Value::Number(n) if n.is_i64() => ScalarValue::Int(n.as_i64().unwrap_or_default()),
        Value::Number(n) => ScalarValue::F64(n.as_f64().unwrap_or_default()),
        Value::String(s) => ScalarValue::Str(s.trim().into()),
        nested => ScalarValue::Str(gladhand_facts::canonical::to_string(nested).into()),
    }
}

fn json_of(scalar: &ScalarValue) -> Value {
    match scalar {
        ScalarValue::Str(s) => Value::from(s.as_str()),
        ScalarValue::Int(i) => Value::from(*i),
        ScalarValue::Uint(u) => Value::from(*u),
        ScalarValue::F64(f) => Value::from(*f),
        ScalarValue::Boolean(b) => Value::from(*b),
        _ => Value::Null,
    }
}

#[cfg(test)]
#[path = "jobdoc_tests.rs"]
mod tests;
