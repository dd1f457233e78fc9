//! The strict checks of a new fact, beyond being a JSON object with a kind.
//!
//! A fact that some device has already accepted is not checked again: it may come from a newer version that knows more.

use serde_json::{Map, Value};

use super::Fact;
use super::error::FactError;
use super::keys::{MAX_DEPTH, as_text};
use crate::canonical;
use crate::key::code_key;
use crate::kind::Kind;
use crate::measure::{Measure, MeasureError};
use crate::moment::Moment;

impl Fact {
    pub(super) fn check(&self) -> Result<(), FactError> {
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
            Kind::Stock => ["camera", "tracker", "trailer"]
                .iter()
                .any(|key| self.text(key).is_some()),
            Kind::Note => self.text("text").is_some() || self.text("note").is_some(),
            _ => true,
        };
        let key = if self.kind == Kind::Stock {
            "camera`, `tracker` or `trailer"
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
            // An empty name would read as a fact that belongs to no job.
            "job" if value.as_str().is_some_and(|name| name.trim().is_empty()) => {
                return Err(wrong("the name of a job"));
            }
            "camera" | "tracker" | "trailer" | "vin" | "code"
                if self.kind.is_known() && as_text(value).is_some_and(|code| code_key(&code).is_empty()) =>
            {
                return Err(FactError::NoCode {
                    key: key.to_owned(),
                    found: as_text(value).unwrap_or_default().chars().take(60).collect(),
                });
            }
            "planned" if self.kind == Kind::Job => check_date(key, value)?,
            "reference" if self.kind == Kind::Clock => check_time(key, value)?,
            "at" | "taken_at" => check_time(key, value)?,
            "by" | "job" | "camera" | "tracker" | "trailer" | "vin" | "fleet" | "yard" | "code" | "check" | "why"
            | "picture" | "finding" | "fact" | "of" | "to" | "reason" | "text" | "note" | "assigned" | "symbology"
            | "unit"
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

    /// A check's `value`: a measure, a time, true or false, or an observation in words. A number with an unknown unit is
    /// none of these.
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

fn check_time(key: &str, value: &Value) -> Result<(), FactError> {
    let text = value.as_str().ok_or_else(|| FactError::WrongType {
        key: key.to_owned(),
        wanted: "an RFC 3339 time",
        found: describe(value),
    })?;
    let read = Moment::parse(text).map_err(|source| FactError::Time {
        key: key.to_owned(),
        source,
    });
    read.map(drop)
}

fn check_date(key: &str, value: &Value) -> Result<(), FactError> {
    let date = as_text(value).unwrap_or_default();
    let read = date.parse::<jiff::civil::Date>().map_err(|_| FactError::Date {
        key: key.to_owned(),
        found: date.chars().take(60).collect(),
    });
    read.map(drop)
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

/// Refuses objects and lists that are nested deeper than [`MAX_DEPTH`].
pub(super) fn depth(map: &Map<String, Value>) -> Result<(), FactError> {
    match map.iter().find(|(_, value)| is_deeper(value, MAX_DEPTH)) {
        Some((key, _)) => Err(FactError::TooDeep { key: key.clone() }),
        None => Ok(()),
    }
}

/// Whether objects and lists are nested deeper than `levels`. Stops there, so it needs no more stack than that.
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
