//! One thing seen or done, recorded once by one device. It is never altered; a later fact may contradict it.
//!
//! A fact is a JSON object. It is kept whole: keys and kinds that this version does not know are carried,
//! shown and written back unchanged. Its identity is BLAKE3 over the device key (32 bytes) followed by the
//! canonical JSON of the line *as it was given*. What the device adds (the time, the person, a made-up job
//! name) is listed under `_filled` and takes no part in the identity, so that the same line dropped twice is
//! the same fact although the clock went on.
//!
//! There are two ways in. [`Fact::from_line`] is strict, for what people and scripts record here (`fact/check.rs`);
//! [`Fact::from_stored`] is lenient, for what another device, perhaps of a newer version, has accepted.

use std::borrow::Cow;

use serde_json::{Map, Value};

use crate::canonical;
use crate::ids::{DeviceKey, FactId};
use crate::key::code_key;
use crate::kind::Kind;
use crate::measure::Measure;
use crate::moment::Moment;
use crate::unique_keys;

mod check;
pub(crate) mod error;
mod keys;

pub use error::FactError;
pub use keys::{COMMON_KEYS, MAX_DEPTH, MAX_LINE_BYTES, as_text};
use keys::{FILLED, filled_keys};

/// Where the device notes what a withdrawn fact was about; see [`Fact::filing_keys`].
pub const WITHDRAWN: &str = "withdrawn";

/// How many letters of the identity follow the unit number in a made-up job name: two visits to one trailer share theirs once in a
/// million.
const MADE_UP_LETTERS: usize = 4;

/// A fact: the JSON object, what it says, and its name.
#[derive(Debug, Clone, PartialEq)]
pub struct Fact {
    map: Map<String, Value>,
    kind: Kind,
    id: FactId,
    /// The name of the check, of a `check` fact: asked for more often than everything else.
    check: Option<Box<str>>,
}

impl Fact {
    /// Reads one line as a person or a script wrote it, and checks it strictly.
    ///
    /// # Errors
    /// [`FactError`], which names the key and says what belongs there.
    pub fn from_line(device: &DeviceKey, line: &str) -> Result<Self, FactError> {
        if line.len() > MAX_LINE_BYTES {
            return Err(FactError::TooLong { bytes: line.len() });
        }
        Self::from_map(device, unique_keys::object(line)?)
    }

    /// As [`Fact::from_line`], from an object that has been read already.
    ///
    /// # Errors
    /// As [`Fact::from_line`].
    pub fn from_map(device: &DeviceKey, map: Map<String, Value>) -> Result<Self, FactError> {
        if map.contains_key(FILLED) {
            return Err(FactError::Reserved);
        }
        check::depth(&map)?;
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
        let check = named_check(&map, &kind);
        Ok(Self { map, kind, id, check })
    }

    /// What it says.
    pub fn kind(&self) -> &Kind {
        &self.kind
    }

    /// Its name.
    pub fn id(&self) -> FactId {
        self.id
    }

    /// The name of the check, if it is a `check` fact.
    pub fn check_name(&self) -> Option<&str> {
        self.check.as_deref()
    }

    /// Adds `key` unless the line gave it, and notes that the device did so. The identity does not change.
    pub fn fill(&mut self, key: &str, value: impl Into<Value>) {
        if self.map.contains_key(key) {
            return;
        }
        self.map.insert(key.to_owned(), value.into());
        self.check = named_check(&self.map, &self.kind);
        let filled = self.map.entry(FILLED).or_insert_with(|| Value::Array(Vec::new()));
        if let Value::Array(keys) = filled {
            keys.push(Value::from(key));
        }
    }

    /// The keys that say what the fact is about, as they stand in it. A withdrawal carries those of the fact that it takes
    /// back (filled in by the device under [`WITHDRAWN`]), so that it is filed wherever that one is.
    pub fn filing_keys(&self) -> Map<String, Value> {
        let keys = [
            "kind",
            "job",
            "camera",
            "tracker",
            "trailer",
            "vin",
            "code",
            "what",
            "check",
            "by",
            "finding",
            "fleet",
            "picture",
            "picture_blake3",
        ];
        let held = keys
            .iter()
            .filter_map(|key| Some(((*key).to_owned(), self.map.get(*key)?.clone())));
        held.collect()
    }

    /// A short job name made from the line alone, for a `job` line that names none: the unit number, where there is one, and some
    /// letters of the identity.
    pub fn made_up_job(&self) -> String {
        let letters =
            |count: usize| -> String { self.id.0.iter().take(count).map(|byte| base32_letter(*byte)).collect() };
        let number = self
            .text("trailer")
            .map(|trailer| code_key(&trailer))
            .unwrap_or_default();
        let number: String = number.chars().filter(|c| c.is_alphanumeric()).take(20).collect();
        if number.is_empty() {
            letters(9)
        } else {
            format!("{number}-{}", letters(MADE_UP_LETTERS))
        }
    }

    /// The text that is stored: canonical JSON, with what the device added.
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

    /// The time under `key`, if it can be read.
    pub fn moment(&self, key: &str) -> Option<Moment> {
        Moment::parse(self.map.get(key)?.as_str()?).ok()
    }

    /// The measure under `key`, with the fact's `unit` where it has one, if it can be read.
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
}

fn named_check(map: &Map<String, Value>, kind: &Kind) -> Option<Box<str>> {
    let name = map.get("check").filter(|_| *kind == Kind::Check).and_then(as_text)?;
    Some(Box::from(&*name))
}

/// The letter of the low five bits: digits, then letters without `i`, `l`, `o` and `u`, which are misread or misheard.
fn base32_letter(bits: u8) -> char {
    char::from(match bits & 31 {
        n @ 0..=9 => b'0' + n,
        n @ 10..=17 => b'a' + (n - 10),
        n @ 18..=19 => b'j' + (n - 18),
        n @ 20..=21 => b'm' + (n - 20),
        n @ 22..=26 => b'p' + (n - 22),
        n => b'v' + (n - 27),
    })
}

fn identity(device: &DeviceKey, map: &Map<String, Value>) -> FactId {
    let filled: Vec<&str> = filled_keys(map).collect();
    let given = canonical::object_without(map, |key| key == FILLED || filled.contains(&key));
    let mut hasher = blake3::Hasher::new();
    hasher.update(&device.0).update(given.as_bytes());
    FactId(*hasher.finalize().as_bytes())
}

#[cfg(test)]
#[path = "fact_tests.rs"]
mod tests;
