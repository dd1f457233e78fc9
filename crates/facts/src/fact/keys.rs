//! The keys that every fact may carry, the one that is reserved, and the limits of a fact's JSON.

use std::borrow::Cow;

use serde_json::{Map, Value};

/// The longest fact line that is taken: one mebibyte.
pub const MAX_LINE_BYTES: usize = 1 << 20;
/// How deep objects and lists may be nested in a new fact. Readers of JSON have a limit (ours is 128 levels, counting what
/// surrounds the fact); what is written beyond it could never be read again.
pub const MAX_DEPTH: usize = 64;

/// Reserved: the list of the keys that the device added.
pub(super) const FILLED: &str = "_filled";

/// Keys that every kind may carry; everything else in a `job` fact is a field of the job.
pub const COMMON_KEYS: [&str; 7] = ["kind", "at", "clock", "by", "job", "note", FILLED];

/// The text of a JSON value: a trimmed, non-empty string, or a whole number.
pub fn as_text(value: &Value) -> Option<Cow<'_, str>> {
    match value {
        Value::String(s) => Some(s.trim()).filter(|s| !s.is_empty()).map(Cow::Borrowed),
        Value::Number(n) if n.is_i64() || n.is_u64() => Some(Cow::Owned(n.to_string())),
        _ => None,
    }
}

/// The keys that the device added.
pub(super) fn filled_keys(map: &Map<String, Value>) -> impl Iterator<Item = &str> {
    map.get(FILLED)
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
        .filter_map(Value::as_str)
}
