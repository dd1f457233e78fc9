//! Reads JSON and refuses an object in which a key appears twice. JSON leaves open what a repeated key means, and most readers
//! keep the last one: of two cameras on one line, one would be lost without a message.

use std::cell::RefCell;
use std::fmt;

use serde::de::{DeserializeSeed, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};

use crate::fact::error::FactError;

/// Reads an object.
///
/// # Errors
/// [`FactError::NotJson`], [`FactError::NotAnObject`] or [`FactError::Twice`].
pub fn object(text: &str) -> Result<Map<String, Value>, FactError> {
    let twice = RefCell::new(None);
    let mut reader = serde_json::Deserializer::from_str(text);
    let read = UniqueKeys(&twice)
        .deserialize(&mut reader)
        .and_then(|value| reader.end().map(|()| value));
    match (read, twice.take()) {
        (_, Some(key)) => Err(FactError::Twice { key }),
        (Ok(Value::Object(map)), None) => Ok(map),
        (Ok(_), None) => Err(FactError::NotAnObject),
        (Err(e), None) => Err(FactError::NotJson(e.to_string())),
    }
}

/// Reads a value; notes the first key that appears twice in one object. The note is beside the error because `serde`'s errors
/// are texts.
#[derive(Clone, Copy)]
struct UniqueKeys<'t>(&'t RefCell<Option<String>>);

impl<'de> DeserializeSeed<'de> for UniqueKeys<'_> {
    type Value = Value;
    fn deserialize<D: Deserializer<'de>>(self, reader: D) -> Result<Value, D::Error> {
        reader.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for UniqueKeys<'_> {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("any JSON value")
    }
    fn visit_bool<E>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }
    fn visit_i64<E>(self, value: i64) -> Result<Value, E> {
        Ok(Value::from(value))
    }
    fn visit_u64<E>(self, value: u64) -> Result<Value, E> {
        Ok(Value::from(value))
    }
    fn visit_f64<E: Error>(self, value: f64) -> Result<Value, E> {
        // The reader hands on no other, but its types do not say so.
        let finite = Number::from_f64(value).map(Value::Number);
        finite.ok_or_else(|| E::custom("a number that is not finite"))
    }
    fn visit_str<E>(self, value: &str) -> Result<Value, E> {
        Ok(Value::from(value))
    }
    fn visit_string<E>(self, value: String) -> Result<Value, E> {
        Ok(Value::String(value))
    }
    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Value, A::Error> {
        let mut values = Vec::new();
        while let Some(value) = list.next_element_seed(self)? {
            values.push(value);
        }
        Ok(Value::Array(values))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut object: A) -> Result<Value, A::Error> {
        let mut map = Map::new();
        while let Some(key) = object.next_key::<String>()? {
            if map.contains_key(&key) {
                self.0.borrow_mut().get_or_insert(key);
                return Err(A::Error::custom("a key appears twice"));
            }
            let value = object.next_value_seed(self)?;
            map.insert(key, value);
        }
        Ok(Value::Object(map))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_repeated_key_is_named() {
        let twice = |text: &str| match object(text) {
            Err(FactError::Twice { key }) => key,
            other => panic!("{other:?}"),
        };
        assert_eq!(twice(r#"{"camera":"C1","tracker":"T","camera":"C2"}"#), "camera");
        assert_eq!(twice(r#"{"answers":{"seal":true,"se\u0061l":false}}"#), "seal");
        assert_eq!(twice(r#"{"a":[{"b":1,"b":1}]}"#), "b");
    }

    /// Everything else reads as serde_json itself reads it.
    #[test]
    fn the_rest_is_what_the_library_reads() {
        for text in [
            r#"{"kind":"note","text":"a","n":-1,"u":18446744073709551615,"f":0.1,"e":1e-7,"l":[null,true,{}],"z":""}"#,
            "{}",
            r#"{"deep":[[[[{"a":{"a":{"a":1}}}]]]]}"#,
        ] {
            let plain: Value = serde_json::from_str(text).unwrap();
            assert_eq!(Value::Object(object(text).unwrap()), plain);
        }
        assert!(matches!(object("[1]"), Err(FactError::NotAnObject)));
        for bad in ["", "{", "{}x", "{\"a\":1e999}", "{\"a\":}"] {
            let plain = serde_json::from_str::<Value>(bad).unwrap_err().to_string();
            assert_eq!(object(bad), Err(FactError::NotJson(plain)), "{bad}");
        }
        let deep = format!("{}1{}", "[".repeat(200), "]".repeat(200));
        assert!(matches!(
            object(&format!("{{\"a\":{deep}}}")),
            Err(FactError::NotJson(_))
        ));
    }
}
