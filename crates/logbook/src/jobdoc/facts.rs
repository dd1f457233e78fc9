//! The facts inside a change.

use automerge::{ActorId, Change, ChangeHash, ScalarValue};
use gladhand_facts::{DeviceKey, Fact, LogId};

use super::error::{DocError, guarded};
use super::stripped::{actor_of, raw_change, read_deps};
use crate::entry::MAX_FACTS;
use crate::wire::Reader;

pub(super) const GENESIS_ACTOR: &[u8] = b"gladhand";
/// No honest job has operation counters beyond this: a job of four thousand facts has about four thousand.
pub(super) const MAX_OP: u64 = 1 << 24;

/// The facts inside a stripped change, without any document. Hostile bytes are read within bounds, and a panic of Automerge is
/// an error.
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

/// The texts that a change puts into the `facts` map, which is the object of the first change's third operation.
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
