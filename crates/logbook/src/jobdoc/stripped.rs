//! The stripped form of a change, and raw Automerge change chunks; the layout is in the module doc of `jobdoc.rs`.

use std::collections::BTreeSet;

use automerge::{ActorId, ChangeHash};
use gladhand_facts::LogId;
use sha2::{Digest, Sha256};

use super::error::DocError;
use crate::wire::{self, Reader, WireError};

const MAGIC: [u8; 4] = [0x85, 0x6f, 0x4a, 0x83];
const CHUNK_CHANGE: u8 = 1;
const MAX_DEPS: u64 = 4_096;

const DEP_GENESIS: u8 = 0;
const DEP_OWN_LOG: u8 = 1;
const DEP_OTHER_LOG: u8 = 2;

/// An entry's place: its log and its seq.
pub type EntryPlace = (LogId, u64);

/// The Automerge actor of a log: the first 16 bytes of the BLAKE3 of its name. A copied home begins a new incarnation, which
/// has another actor, so no two writers share one.
pub(super) fn actor_bytes(log: &LogId) -> [u8; 16] {
    let mut hasher = blake3::Hasher::new_derive_key("gladhand 2026 document actor 1");
    hasher.update(&log.device.0).update(&log.incarnation.to_le_bytes());
    let mut actor = [0; 16];
    hasher.finalize_xof().fill(&mut actor);
    actor
}

/// [`actor_bytes`] for Automerge.
pub(super) fn actor_of(log: &LogId) -> ActorId {
    ActorId::from(actor_bytes(log).as_slice())
}

/// Appends the dependencies of a change in `log`. `None` is the first change of the document.
pub(super) fn put_deps(out: &mut Vec<u8>, log: &LogId, deps: &[Option<EntryPlace>]) {
    wire::put_number(out, deps.len() as u64);
    for dep in deps {
        match dep {
            None => out.push(DEP_GENESIS),
            Some((own, seq)) if own == log => {
                out.push(DEP_OWN_LOG);
                wire::put_number(out, *seq);
            }
            Some((other, seq)) => {
                out.push(DEP_OTHER_LOG);
                wire::put_log(out, other);
                wire::put_number(out, *seq);
            }
        }
    }
}

/// Reads what [`put_deps`] wrote.
pub(super) fn read_deps(log: &LogId, reader: &mut Reader<'_>) -> Result<Vec<Option<EntryPlace>>, WireError> {
    let mut deps = Vec::new();
    for _ in 0..reader.count(MAX_DEPS, "dependencies of a change")? {
        deps.push(match reader.byte("a dependency")? {
            DEP_GENESIS => None,
            DEP_OWN_LOG => Some((*log, reader.number("a dependency")?)),
            DEP_OTHER_LOG => Some((reader.log("a dependency")?, reader.number("a dependency")?)),
            _ => return Err(WireError::Number("a dependency")),
        });
    }
    Ok(deps)
}

/// What follows the actor in a raw change chunk.
pub(super) fn raw_tail(raw: &[u8]) -> Result<&[u8], DocError> {
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
pub(super) fn raw_change(deps: &[ChangeHash], actor: &ActorId, tail: &[u8]) -> Vec<u8> {
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
    let [a, b, c, d, ..]: [u8; 32] = Sha256::digest(&hashed).into();
    raw.extend_from_slice(&[a, b, c, d]);
    raw.extend_from_slice(&hashed);
    raw
}

/// Sorts changes so that each comes after its dependencies. Those with a missing dependency, or with dependencies that do not
/// read, come last.
pub(super) fn in_order(mut waiting: Vec<(EntryPlace, &[u8])>) -> Vec<(EntryPlace, &[u8])> {
    waiting.sort_by_key(|(place, _)| *place);
    let mut placed = BTreeSet::new();
    let mut ordered = Vec::with_capacity(waiting.len());
    loop {
        let before = waiting.len();
        waiting.retain(|(place, stripped)| {
            let deps = read_deps(&place.0, &mut Reader::new(stripped));
            let ready = deps.is_ok_and(|deps| deps.iter().flatten().all(|dep| placed.contains(dep)));
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
