//! One thing seen or done, recorded once by one device; never altered, only followed by later facts.
//!
//! A fact is a JSON object. It is kept whole: keys and kinds that this version does not know are carried,
//! shown and written back unchanged. Its identity is BLAKE3 over the device key (32 bytes) followed by the
//! canonical JSON of the line *as it was given*. What the device adds (the time, the person, a made-up job
//! name) is listed under `_filled` and takes no part in the identity, so that the same line dropped twice is
//! the same fact although the clock went on.
//!
//! There are two doors. [`Fact::from_line`] is the strict one, for what people and scripts hand in here;
//! [`Fact::from_stored`] is the lenient one, for what another device, perhaps a newer version, has accepted.

use std::borrow::Cow;

use serde_json::{Map, Value};

use crate::canonical;
use crate::ids::{DeviceKey, FactId};
use crate::kind::Kind;
use crate::measure::{Measure, MeasureError};
use crate::moment::{Moment, MomentError};
use crate::strict;

/// The longest fact line that is taken: one mebibyte.
pub const MAX_LINE_BYTES: usize = 1 << 20;
/// How deep objects and lists may lie within each other in a new fact. Whoever reads JSON has a limit (ours 128 levels, with
/// what stands around the fact): what is written beyond it could never be read again.
pub const MAX_DEPTH: usize = 64;

/// Names the keys that the device added. Reserved.
const FILLED: &str = "_filled";

/// Keys that every kind may carry; everything else in a `job` fact is a field of the job.
pub const COMMON_KEYS: [&str; 7] = ["kind", "at", "clock", "by", "job", "note", FILLED];

/// Why a line is not a fact.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FactError {
    /// The line is longer than [`MAX_LINE_BYTES`].
    #[error("the line has {bytes} bytes; a fact has at most {MAX_LINE_BYTES}")]
    TooLong {
        /// Its length.
        bytes: usize,
    },
    /// Nested deeper than [`MAX_DEPTH`].
    #[error("`{key}` is nested deeper than {MAX_DEPTH} levels")]
    TooDeep {
        /// The key.
        key: String,
    },
    /// Not JSON.
    #[error("not JSON: {0}")]
    NotJson(String),
    /// JSON, but not an object.
    #[error("not a JSON object: a fact is written {{\"kind\": …}}")]
    NotAnObject,
    /// A key stands twice in one object.
    #[error("`{key}` stands twice: one line is one fact, so write two lines")]
    Twice {
        /// The key.
        key: String,
    },
    /// No `kind`, or not a text.
    #[error("no `kind`: say what the fact is, such as \"kind\": \"link\"")]
    NoKind,
    /// A key that this kind cannot do without.
    #[error("a {kind} needs `{key}`")]
    Missing {
        /// The kind of fact.
        kind: String,
        /// The key.
        key: String,
    },
    /// A key holds something of the wrong type.
    #[error("`{key}` must be {wanted}, not {found}")]
    WrongType {
        /// The key.
        key: String,
        /// What belongs there.
        wanted: &'static str,
        /// What stands there.
        found: String,
    },
    /// A key holds a word outside its closed list.
    #[error("`{key}` is '{found}'; it must be one of: {allowed}")]
    UnknownWord {
        /// The key.
        key: String,
        /// What stands there.
        found: String,
        /// What may.
        allowed: String,
    },
    /// A key holds a bad time.
    #[error("`{key}`: {source}")]
    Time {
        /// The key.
        key: String,
        /// What is wrong with it.
        source: MomentError,
    },
    /// A key holds a bad measure.
    #[error("`{key}`: {source}")]
    Measure {
        /// The key.
        key: String,
        /// What is wrong with it.
        source: MeasureError,
    },
    /// A number that would lose digits.
    #[error("the number {0} has more digits than can be carried exactly: write it as text, in quotes")]
    Number(String),
    /// The reserved key.
    #[error("`{FILLED}` is reserved: it lists what the device added")]
    Reserved,
}

/// A fact: the JSON object, what it says, and its name.
#[derive(Debug, Clone, PartialEq)]
pub struct Fact {
    map: Map<String, Value>,
    kind: Kind,
    id: FactId,
}

impl Fact {
    /// Reads one line as given by a person or a script, and checks it strictly.
    ///
    /// # Errors
    /// [`FactError`], which names the key and says what belongs there.
    pub fn from_line(device: &DeviceKey, line: &str) -> Result<Self, FactError> {
        if line.len() > MAX_LINE_BYTES {
            return Err(FactError::TooLong { bytes: line.len() });
        }
        Self::from_map(device, strict::object(line)?)
    }

    /// Takes an object as given, and checks it strictly.
    ///
    /// # Errors
    /// As [`Fact::from_line`].
    pub fn from_map(device: &DeviceKey, map: Map<String, Value>) -> Result<Self, FactError> {
        if map.contains_key(FILLED) {
            return Err(FactError::Reserved);
        }
        if let Some((key, _)) = map.iter().find(|(_, value)| is_deeper(value, MAX_DEPTH)) {
            return Err(FactError::TooDeep { key: key.clone() });
        }
        let fact = Self::assemble(device, map)?;
        fact.check()?;
        let size = fact.stored().len();
        if size > MAX_LINE_BYTES {
            Err(FactError::TooLong { bytes: size })
        } else {
            Ok(fact)
        }
    }

    /// Reads a fact that some device has already accepted. Only its form is checked.
    ///
    /// # Errors
    /// [`FactError::NotJson`], [`FactError::NotAnObject`] or [`FactError::NoKind`].
    pub fn from_stored(device: &DeviceKey, text: &str) -> Result<Self, FactError> {
        match serde_json::from_str(text) {
            Ok(Value::Object(map)) => Self::assemble(device, map),
            Ok(_) => Err(FactError::NotAnObject),
            Err(e) => Err(FactError::NotJson(e.to_string())),
        }
    }

    fn assemble(device: &DeviceKey, map: Map<String, Value>) -> Result<Self, FactError> {
        let name = map
            .get("kind")
            .and_then(Value::as_str)
            .map(str::trim)
            .filter(|k| !k.is_empty());
        let kind = Kind::parse(name.ok_or(FactError::NoKind)?);
        let id = identity(device, &map);
        Ok(Self { map, kind, id })
    }

    /// What it says.
    pub fn kind(&self) -> &Kind {
        &self.kind
    }

    /// Its name.
    pub fn id(&self) -> FactId {
        self.id
    }

    /// Adds `key` unless the line gave it, and notes that the device did so. The identity does not change.
    pub fn fill(&mut self, key: &str, value: impl Into<Value>) {
        if self.map.contains_key(key) {
            return;
        }
        self.map.insert(key.to_owned(), value.into());
        let filled = self.map.entry(FILLED).or_insert_with(|| Value::Array(Vec::new()));
        if let Value::Array(keys) = filled {
            keys.push(Value::from(key));
        }
    }

    /// A short job name made from the identity, for a `job` line that names none.
    pub fn made_up_job(&self) -> String {
        const LETTERS: &[u8; 32] = b"0123456789abcdefghjkmnpqrstvwxyz";
        let letter = |b: &u8| LETTERS.get(usize::from(b & 31)).map_or('0', |l| char::from(*l));
        self.id.0.iter().take(9).map(letter).collect()
    }

    /// The bytes that are kept: canonical JSON, with what the device added.
    pub fn stored(&self) -> String {
        canonical::object_without(&self.map, |_| false)
    }

    /// The object for showing, without the bookkeeping key.
    pub fn shown(&self) -> Map<String, Value> {
        self.map
            .iter()
            .filter(|(k, _)| *k != FILLED)
            .map(|(k, v)| (k.clone(), v.clone()))
            .collect()
    }

    /// Whether the device, not the line, gave `key`.
    pub fn is_filled(&self, key: &str) -> bool {
        filled_keys(&self.map).any(|k| k == key)
    }

    /// The raw value of `key`.
    pub fn get(&self, key: &str) -> Option<&Value> {
        self.map.get(key)
    }

    /// The text of `key`, trimmed; a whole number counts as text (a unit number may come unquoted). Empty is absent.
    pub fn text(&self, key: &str) -> Option<Cow<'_, str>> {
        as_text(self.map.get(key)?)
    }

    /// The truth of `key`.
    pub fn flag(&self, key: &str) -> Option<bool> {
        self.map.get(key).and_then(Value::as_bool)
    }

    /// The answers {name: yes or no}, in the order of their names.
    pub fn answers(&self) -> impl Iterator<Item = (&str, bool)> {
        let answers = self.map.get("answers").and_then(Value::as_object);
        answers
            .into_iter()
            .flatten()
            .filter_map(|(name, v)| v.as_bool().map(|b| (name.as_str(), b)))
    }

    /// When it happened, if a readable time was given.
    pub fn at(&self) -> Option<Moment> {
        self.moment("at")
    }

    /// The time under `key`.
    pub fn moment(&self, key: &str) -> Option<Moment> {
        Moment::parse(self.map.get(key)?.as_str()?).ok()
    }

    /// The measure under `key`, with `unit` beside it.
    pub fn measure(&self, key: &str) -> Option<Measure> {
        Measure::from_json(self.map.get(key)?, self.map.get("unit").and_then(Value::as_str)).ok()
    }

    /// Whether its time was taken from a server's clock and not the device's.
    pub fn by_reference_clock(&self) -> bool {
        self.map.get("clock").and_then(Value::as_str) == Some("reference")
    }

    /// The job's fields in a `job` fact: every key that is not a common one.
    pub fn fields(&self) -> impl Iterator<Item = (&str, &Value)> {
        let is_field = |key: &&String| self.kind == Kind::Job && !COMMON_KEYS.contains(&key.as_str());
        self.map
            .iter()
            .filter(move |(key, v)| is_field(key) && !v.is_null())
            .map(|(k, v)| (k.as_str(), v))
    }

    fn check(&self) -> Result<(), FactError> {
        if let Some(number) = self.map.values().find_map(canonical::check_numbers) {
            return Err(FactError::Number(number));
        }
        for key in self.kind.required() {
            if self.text(key).is_none() {
                return Err(self.missing(key));
            }
        }
        self.check_special()?;
        for (key, value) in &self.map {
            self.check_key(key, value)?;
        }
        self.check_value()
    }

    fn missing(&self, key: &str) -> FactError {
        match self.map.get(key) {
            None | Some(Value::Null) => FactError::Missing {
                kind: self.kind.name().to_owned(),
                key: key.to_owned(),
            },
            Some(Value::String(_)) => FactError::WrongType {
                key: key.to_owned(),
                wanted: "a text",
                found: "an empty one".into(),
            },
            Some(other) => FactError::WrongType {
                key: key.to_owned(),
                wanted: "a text",
                found: describe(other),
            },
        }
    }

    fn check_special(&self) -> Result<(), FactError> {
        let says_something = match self.kind {
            Kind::Stock if self.text("fleet").is_none() => return Err(self.missing("fleet")),
            Kind::Stock => self.text("camera").is_some() || self.text("tracker").is_some(),
            Kind::Note => self.text("text").is_some() || self.text("note").is_some(),
            _ => true,
        };
        let key = if self.kind == Kind::Stock {
            "camera` or `tracker"
        } else {
            "text"
        };
        if says_something { Ok(()) } else { Err(self.missing(key)) }
    }

    fn check_key(&self, key: &str, value: &Value) -> Result<(), FactError> {
        if value.is_null() {
            return Ok(());
        }
        let wrong = |wanted| FactError::WrongType {
            key: key.to_owned(),
            wanted,
            found: describe(value),
        };
        match key {
            // An empty name would make a fact of no job at all.
            "job" if value.as_str().is_some_and(|name| name.trim().is_empty()) => {
                return Err(wrong("the name of a job"));
            }
            "at" | "taken_at" => {
                let text = value.as_str().ok_or_else(|| wrong("an RFC 3339 time"))?;
                Moment::parse(text).map_err(|source| FactError::Time {
                    key: key.to_owned(),
                    source,
                })?;
            }
            "by" | "job" | "camera" | "tracker" | "trailer" | "vin" | "fleet" | "yard" | "code" | "check" | "why"
            | "picture" | "finding" | "text" | "note" | "assigned" | "symbology" | "unit"
                if self.kind.is_known() && !value.is_string() && as_text(value).is_none() =>
            {
                return Err(wrong("a text"));
            }
            "ok" if self.kind.is_known() && !value.is_boolean() => return Err(wrong("true or false")),
            "answers" if self.kind.is_known() => check_answers(value)?,
            "thickness" if self.kind == Kind::Job => {
                let unit = self.map.get("unit").and_then(Value::as_str);
                Measure::from_json(value, unit).map_err(|e| measure_error(key, e))?;
            }
            _ => {}
        }
        if let Some(allowed) = self.kind.words(key) {
            let word = value.as_str().ok_or_else(|| wrong("a text"))?;
            if !allowed.contains(&word) {
                let (key, found) = (key.to_owned(), word.chars().take(60).collect());
                return Err(FactError::UnknownWord {
                    key,
                    found,
                    allowed: allowed.join(", "),
                });
            }
        }
        Ok(())
    }

    /// A check's `value`: a measure, a time, a truth or an observation in words. A number with a unit that
    /// nobody knows is none of these.
    fn check_value(&self) -> Result<(), FactError> {
        let Some(value) = self.map.get("value").filter(|_| self.kind == Kind::Check) else {
            return Ok(());
        };
        let unit = self.text("unit");
        if value.is_boolean() || value.as_str().is_some_and(|t| Moment::parse(t).is_ok()) {
            return Ok(());
        }
        match Measure::from_json(value, unit.as_deref()) {
            Ok(_) => Ok(()),
            Err(MeasureError::NotANumber(_)) if unit.is_none() && value.is_string() => Ok(()),
            Err(e) => Err(measure_error("value", e)),
        }
    }
}

fn measure_error(key: &str, source: MeasureError) -> FactError {
    FactError::Measure {
        key: key.to_owned(),
        source,
    }
}

fn check_answers(value: &Value) -> Result<(), FactError> {
    let wrong = |key: String, wanted, v: &Value| {
        Err(FactError::WrongType {
            key,
            wanted,
            found: describe(v),
        })
    };
    let Some(map) = value.as_object() else {
        return wrong("answers".into(), "an object {name: true or false}", value);
    };
    match map.iter().find(|(_, v)| !v.is_boolean()) {
        Some((name, v)) => wrong(format!("answers.{name}"), "true or false", v),
        None => Ok(()),
    }
}

/// Whether objects and lists lie in each other more than `levels` deep. Never goes deeper itself.
fn is_deeper(value: &Value, levels: usize) -> bool {
    let Some(left) = levels.checked_sub(1) else {
        return value.is_object() || value.is_array();
    };
    match value {
        Value::Object(map) => map.values().any(|inner| is_deeper(inner, left)),
        Value::Array(list) => list.iter().any(|inner| is_deeper(inner, left)),
        _ => false,
    }
}

/// The text of a JSON value: a trimmed, non-empty string, or a whole number.
pub fn as_text(value: &Value) -> Option<Cow<'_, str>> {
    match value {
        Value::String(s) => Some(s.trim()).filter(|s| !s.is_empty()).map(Cow::Borrowed),
        Value::Number(n) if n.is_i64() || n.is_u64() => Some(Cow::Owned(n.to_string())),
        _ => None,
    }
}

fn filled_keys(map: &Map<String, Value>) -> impl Iterator<Item = &str> {
    map.get(FILLED)
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
        .filter_map(Value::as_str)
}

fn identity(device: &DeviceKey, map: &Map<String, Value>) -> FactId {
    let filled: Vec<&str> = filled_keys(map).collect();
    let given = canonical::object_without(map, |key| key == FILLED || filled.contains(&key));
    let mut hasher = blake3::Hasher::new();
    hasher.update(&device.0).update(given.as_bytes());
    FactId(*hasher.finalize().as_bytes())
}

fn describe(value: &Value) -> String {
    let text = value.to_string();
    let shown: String = text.chars().take(40).collect();
    let what = match value {
        Value::Null => "null",
        Value::Bool(_) => "the truth value",
        Value::Number(_) => "the number",
        Value::String(_) => "the text",
        Value::Array(_) => "the list",
        Value::Object(_) => "the object",
    };
    format!("{what} {shown}")
}

#[cfg(test)]
#[path = "fact_tests.rs"]
mod tests;
