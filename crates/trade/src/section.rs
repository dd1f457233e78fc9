//! Reads one table of the work standard, and says exactly where it is wrong.
//!
//! A fleet edits the standard by hand, so every error names the line, the key, what is wrong and what to write instead.
//! An unknown key is an error: if a misspelt `at-laest` were ignored, nobody would check that tolerance.
//!
//! Not here: what the keys mean. Each part of the standard reads its own section.

use std::ops::Range;

use gladhand_facts::{Dimension, Measure};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::near;

/// The longest standard that is read: one mebibyte.
pub const MAX_TEXT_BYTES: usize = 1 << 20;

/// Why a text is not a work standard. Lines count from 1.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StandardError {
    /// Longer than [`MAX_TEXT_BYTES`].
    #[error("the work standard has {bytes} bytes; at most {MAX_TEXT_BYTES} are read")]
    TooLong {
        /// Its length.
        bytes: usize,
    },
    /// Not TOML at all.
    #[error("line {line}: this is not TOML: {what}")]
    Syntax {
        /// Where.
        line: usize,
        /// What the TOML reader says.
        what: String,
    },
    /// A key that does not exist in this table.
    #[error("line {line}: there is no key `{key}`: {advice}")]
    UnknownKey {
        /// Where.
        line: usize,
        /// The key, with the tables around it.
        key: String,
        /// Which keys exist here.
        advice: String,
    },
    /// A key that this table needs is not there.
    #[error("line {line}: `{key}` is missing: {advice}")]
    Missing {
        /// Where the table begins.
        line: usize,
        /// The key, with the tables around it.
        key: String,
        /// What to write.
        advice: String,
    },
    /// A key with a value that it cannot have.
    #[error("line {line}: `{key}` {what}: {advice}")]
    Wrong {
        /// Where.
        line: usize,
        /// The key, with the tables around it.
        key: String,
        /// What is wrong.
        what: String,
        /// What to write instead.
        advice: String,
    },
}

impl StandardError {
    /// The line, where there is one.
    pub fn line(&self) -> Option<usize> {
        match self {
            Self::TooLong { .. } => None,
            Self::Syntax { line, .. }
            | Self::UnknownKey { line, .. }
            | Self::Missing { line, .. }
            | Self::Wrong { line, .. } => Some(*line),
        }
    }
}

type Read<T> = Result<T, StandardError>;

/// One table of the file, with the path to it and its place in the text.
#[derive(Debug)]
pub(crate) struct Section<'a> {
    text: &'a str,
    path: String,
    table: &'a DeTable<'a>,
    span: Range<usize>,
}

/// Parses the text and passes its top table to `read`.
pub(crate) fn read_document<T>(text: &str, read: impl FnOnce(&Section<'_>) -> Read<T>) -> Read<T> {
    if text.len() > MAX_TEXT_BYTES {
        return Err(StandardError::TooLong { bytes: text.len() });
    }
    let document = DeTable::parse(text).map_err(|e| StandardError::Syntax {
        // An error about the text as a whole names no place: line 1.
        line: line_of(text, e.span().map_or(0, |s| s.start)),
        what: e.message().replace('\n', ", "),
    })?;
    read(&Section {
        text,
        path: String::new(),
        table: document.get_ref(),
        span: 0..0,
    })
}

impl<'a> Section<'a> {
    /// Refuses every key that is not in `known`.
    pub(crate) fn only(&self, known: &[&str]) -> Read<()> {
        for key in self.table.keys() {
            if !known.contains(&key.get_ref().as_ref()) {
                return Err(self.unknown(key, known));
            }
        }
        Ok(())
    }

    fn unknown(&self, key: &Spanned<std::borrow::Cow<'_, str>>, known: &[&str]) -> StandardError {
        let near = near::near_misses(key.get_ref(), known.iter().copied());
        let advice = match near.first() {
            Some(meant) => format!("did you mean `{meant}`?"),
            None => format!("the keys here are: {}", known.join(", ")),
        };
        StandardError::UnknownKey {
            line: line_of(self.text, key.span().start),
            key: self.full(key.get_ref()),
            advice,
        }
    }

    /// The text under `key`; empty is wrong.
    pub(crate) fn text(&self, key: &str, advice: &str) -> Read<String> {
        self.text_opt(key)?.ok_or_else(|| self.missing(key, advice))
    }

    /// The text under `key`, if it is there.
    pub(crate) fn text_opt(&self, key: &str) -> Read<Option<String>> {
        let Some(value) = self.table.get(key) else {
            return Ok(None);
        };
        let text = value.get_ref().as_str().map(str::trim).filter(|t| !t.is_empty());
        text.map(|t| Some(t.to_owned()))
            .ok_or_else(|| self.wrong_type(key, value, "write a text in quotes"))
    }

    /// The value of the word under `key`, which must be in a closed list.
    pub(crate) fn choice<T: Copy>(&self, key: &str, choices: &[(&str, T)]) -> Read<T> {
        let words: Vec<&str> = choices.iter().map(|(word, _)| *word).collect();
        let word = self.text(key, &format!("write one of: {}", words.join(", ")))?;
        let chosen = choices.iter().find(|(name, _)| *name == word);
        chosen
            .map(|(_, value)| *value)
            .ok_or_else(|| self.not_allowed(key, &word, &words))
    }

    /// One of the words of a closed list.
    pub(crate) fn word(&self, key: &str, allowed: &[&str]) -> Read<String> {
        let word = self.text(key, &format!("write one of: {}", allowed.join(", ")))?;
        self.allowed(key, word, allowed)
    }

    /// A list of texts; absent is empty. One text alone is a list of one.
    pub(crate) fn texts(&self, key: &str) -> Read<Vec<String>> {
        let advice = "write a list of texts, such as [\"one\", \"two\"]";
        let Some(value) = self.table.get(key) else {
            return Ok(Vec::new());
        };
        if let Some(one) = value.get_ref().as_str() {
            return Ok(vec![one.trim().to_owned()]);
        }
        let list = value.get_ref().as_array();
        let items = list.ok_or_else(|| self.wrong_type(key, value, advice))?.iter();
        items
            .map(|item| match item.get_ref().as_str().map(str::trim) {
                Some(text) if !text.is_empty() => Ok(text.to_owned()),
                _ => Err(self.wrong_type(key, item, advice)),
            })
            .collect()
    }

    /// A list of words from a closed list.
    pub(crate) fn words(&self, key: &str, allowed: &[&str]) -> Read<Vec<String>> {
        let words = self.texts(key)?;
        words.into_iter().map(|w| self.allowed(key, w, allowed)).collect()
    }

    fn allowed(&self, key: &str, word: String, allowed: &[&str]) -> Read<String> {
        if allowed.contains(&word.as_str()) {
            return Ok(word);
        }
        Err(self.not_allowed(key, &word, allowed))
    }

    fn not_allowed(&self, key: &str, word: &str, allowed: &[&str]) -> StandardError {
        let advice = format!("write one of: {}", allowed.join(", "));
        self.wrong(key, &format!("says '{word}'"), &advice)
    }

    /// `true` or `false`; absent is `default`.
    pub(crate) fn flag(&self, key: &str, default: bool) -> Read<bool> {
        let Some(value) = self.table.get(key) else {
            return Ok(default);
        };
        let flag = value.get_ref().as_bool();
        flag.ok_or_else(|| self.wrong_type(key, value, "write true or false, without quotes"))
    }

    /// A whole number from `least` up.
    pub(crate) fn whole(&self, key: &str, least: u32) -> Read<u32> {
        let advice = format!("write a whole number of at least {least}");
        let value = self.table.get(key).ok_or_else(|| self.missing(key, &advice))?;
        let number = value.get_ref().as_integer();
        let number = number.ok_or_else(|| self.wrong_type(key, value, &advice))?;
        u32::from_str_radix(number.as_str(), number.radix())
            .ok()
            .filter(|n| *n >= least)
            .ok_or_else(|| self.wrong(key, &format!("is {}", number.as_str()), &advice))
    }

    /// A measure of the wanted dimension, if the key is there. Never negative, unless it is a temperature.
    pub(crate) fn measure_opt(&self, key: &str, wanted: Option<Dimension>) -> Read<Option<Measure>> {
        let advice = advice_for(wanted);
        let Some(value) = self.table.get(key) else {
            return Ok(None);
        };
        let text = match value.get_ref() {
            DeValue::String(text) => text.as_ref(),
            DeValue::Integer(number) if number.radix() == 10 => number.as_str(),
            _ => return Err(self.wrong_type(key, value, advice)),
        };
        let measure = Measure::parse(text).map_err(|e| self.wrong(key, &format!("is no measure ({e})"), advice))?;
        if wanted.is_some_and(|d| d != measure.dimension()) {
            return Err(self.wrong(key, &format!("is '{text}'"), advice));
        }
        if measure.base() < 0.into() && measure.dimension() != Dimension::Temperature {
            return Err(self.wrong(key, &format!("is '{text}', below zero"), advice));
        }
        Ok(Some(measure))
    }

    /// A measure of the wanted dimension.
    pub(crate) fn measure(&self, key: &str, wanted: Dimension) -> Read<Measure> {
        self.measure_opt(key, Some(wanted))?
            .ok_or_else(|| self.missing(key, advice_for(Some(wanted))))
    }

    /// The table under `key`.
    pub(crate) fn section(&self, key: &str) -> Read<Section<'a>> {
        let advice = format!("add a table [{}]", self.full(key));
        let value = self.table.get(key).ok_or_else(|| self.missing(key, &advice))?;
        self.inner(key.to_owned(), value, &advice)
    }

    /// The tables under `key`, in the order of the file; absent is none.
    pub(crate) fn sections(&self, key: &str) -> Read<Vec<Section<'a>>> {
        let advice = format!("write tables [[{}]]", self.full(key));
        let Some(value) = self.table.get(key) else {
            return Ok(Vec::new());
        };
        let list = value.get_ref().as_array();
        let items = list.ok_or_else(|| self.wrong_type(key, value, &advice))?.iter();
        items
            .enumerate()
            .map(|(i, item)| self.inner(format!("{key}[{}]", i + 1), item, &advice))
            .collect()
    }

    fn inner(&self, name: String, value: &'a Spanned<DeValue<'a>>, advice: &str) -> Read<Section<'a>> {
        match value.get_ref().as_table() {
            Some(table) => Ok(Section {
                text: self.text,
                path: self.full(&name),
                table,
                span: value.span(),
            }),
            None => Err(self.wrong_type(&name, value, advice)),
        }
    }

    /// Whether the table has `key`.
    pub(crate) fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// The error "`key` is missing".
    pub(crate) fn missing(&self, key: &str, advice: &str) -> StandardError {
        StandardError::Missing {
            line: line_of(self.text, self.span.start),
            key: self.full(key),
            advice: advice.to_owned(),
        }
    }

    /// The error "`key` is wrong", at the line of the key's value, or of the table when it is absent.
    pub(crate) fn wrong(&self, key: &str, what: &str, advice: &str) -> StandardError {
        let at = self.table.get(key).map_or(self.span.start, |v| v.span().start);
        StandardError::Wrong {
            line: line_of(self.text, at),
            key: self.full(key),
            what: what.to_owned(),
            advice: advice.to_owned(),
        }
    }

    fn wrong_type(&self, key: &str, value: &Spanned<DeValue<'_>>, advice: &str) -> StandardError {
        let what = match value.get_ref().as_str() {
            Some(text) if text.trim().is_empty() => "is empty".to_owned(),
            _ => format!("holds a value of type {}", value.get_ref().type_str()),
        };
        StandardError::Wrong {
            line: line_of(self.text, value.span().start),
            key: self.full(key),
            what,
            advice: advice.to_owned(),
        }
    }

    fn full(&self, key: &str) -> String {
        if self.path.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.path)
        }
    }
}

fn advice_for(wanted: Option<Dimension>) -> &'static str {
    match wanted {
        Some(Dimension::Length) => "write a length in quotes, such as \"3/4 in\" or \"19 mm\"",
        Some(Dimension::Torque) => "write a torque in quotes, such as \"22 in·lbf\"",
        Some(Dimension::Temperature) => "write a temperature in quotes, such as \"18 °C\" or \"64 °F\"",
        Some(Dimension::Time) => "write a time in quotes, such as \"3 min\" or \"24 h\"",
        Some(Dimension::Count) => "write a whole number",
        None => "write a number and a unit in quotes, such as \"3/4 in\" or \"3 min\", or a bare count",
    }
}

fn line_of(text: &str, offset: usize) -> usize {
    text.bytes().take(offset).filter(|b| *b == b'\n').count() + 1
}

#[cfg(test)]
#[path = "section_tests.rs"]
mod tests;
