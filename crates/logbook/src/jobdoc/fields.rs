//! The fields of a job: JSON values as Automerge scalars, and back.

use automerge::transaction::Transactable;
use automerge::{AutoCommit, ObjId, ReadDoc, ScalarValue};
use serde_json::Value;

/// Sets a field, even to the value that it already has: that is a new write, which must be kept beside a concurrent one.
/// Automerge skips a `put` of the same value, so the old value is deleted first.
pub(super) fn set_field(
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

/// A JSON value as a scalar. Objects and lists become their canonical JSON text.
pub(super) fn scalar(value: &Value) -> ScalarValue {
    match value {
        Value::Null => ScalarValue::Null,
        Value::Bool(b) => ScalarValue::Boolean(*b),
        Value::Number(n) => match (n.as_i64(), n.as_f64()) {
            (Some(whole), _) => ScalarValue::Int(whole),
            (None, Some(number)) => ScalarValue::F64(number),
            (None, None) => ScalarValue::Str(n.to_string().into()),
        },
        Value::String(s) => ScalarValue::Str(s.trim().into()),
        nested => ScalarValue::Str(gladhand_facts::canonical::to_string(nested).into()),
    }
}

/// A scalar as JSON. Kinds that no honest device writes read as null.
pub(super) fn json_of(scalar: &ScalarValue) -> Value {
    match scalar {
        ScalarValue::Str(s) => Value::from(s.as_str()),
        ScalarValue::Int(i) => Value::from(*i),
        ScalarValue::Uint(u) => Value::from(*u),
        ScalarValue::F64(f) => Value::from(*f),
        ScalarValue::Boolean(b) => Value::from(*b),
        _ => Value::Null,
    }
}
