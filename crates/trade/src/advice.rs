//! What is shown beside the work: cautions before a step, hints with their source, the kit to bring, whom to ask, and the
//! reasons for which a job is stood down.
//!
//! None of it is a gate, and no caution is permission to proceed. Every list of cautions ends with the same sentence: site
//! rules, local codes and licensed practice come first.

use gladhand_facts::Measure;

use crate::band::{BAND_KEYS, Band};
use crate::requirement::{Applies, LOADS};
use crate::section::{Section, StandardError};

/// A caution, shown before each of the steps that it guards.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caution {
    steps: Vec<String>,
    load: Vec<String>,
    says: String,
    source: String,
}

impl Caution {
    pub(crate) fn read(section: &Section<'_>, steps: &[String]) -> Result<Self, StandardError> {
        section.only(&["steps", "load", "says", "source"])?;
        let words: Vec<&str> = steps.iter().map(String::as_str).collect();
        let guarded = section.words("steps", &words)?;
        if guarded.is_empty() {
            return Err(section.missing("steps", "list the steps before which it is shown"));
        }
        Ok(Self {
            steps: guarded,
            load: section.words("load", &LOADS)?,
            says: section.text("says", "write the caution")?,
            source: section.text("source", "name where it comes from, or write \"common practice\"")?,
        })
    }

    /// Whether it belongs before `step`.
    pub fn guards(&self, step: &str) -> bool {
        self.steps.iter().any(|s| s == step)
    }

    /// The caution in few words: its first clause, without its source.
    pub fn short(&self) -> &str {
        first_clause(&self.says)
    }

    /// Whether it concerns a trailer of that load. One whose load is not known may be loaded.
    pub fn concerns(&self, load: Option<&str>) -> bool {
        self.load.is_empty() || load.is_none_or(|load| self.load.iter().any(|l| l == load))
    }
}

/// What stands before the first colon, semicolon or full stop.
pub(crate) fn first_clause(text: &str) -> &str {
    let end = [": ", "; ", ". "].iter().filter_map(|mark| text.find(mark)).min();
    text.get(..end.unwrap_or(text.len())).unwrap_or(text)
}

/// The caution as it is shown, with its source when that is a published one.
impl std::fmt::Display for Caution {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.source == "common practice" {
            f.write_str(&self.says)
        } else {
            write!(f, "{} ({})", self.says, self.source)
        }
    }
}

/// Whom to ask when nobody at the trailer may decide alone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Office {
    name: String,
    number: Option<String>,
}

impl Office {
    pub(crate) fn read(section: &Section<'_>) -> Result<Self, StandardError> {
        section.only(&["name", "number"])?;
        Ok(Self {
            name: section.text("name", "say who is asked, such as \"the Larkspur Freight office\"")?,
            number: section.text_opt("number")?,
        })
    }

    /// Its name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Its telephone number, where the standard gives one.
    pub fn number(&self) -> Option<&str> {
        self.number.as_deref()
    }
}

/// The office as it is shown, with its number.
impl std::fmt::Display for Office {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match &self.number {
            Some(number) => write!(f, "{}, {number}", self.name),
            None => write!(f, "{}; this work standard gives no number", self.name),
        }
    }
}

/// A reason for which a job is stood down.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StandDownReason {
    name: String,
    says: String,
}

impl StandDownReason {
    pub(crate) fn read(section: &Section<'_>) -> Result<Self, StandardError> {
        section.only(&["name", "says"])?;
        Ok(Self {
            name: section.text("name", "write the name that stand-down facts carry as `reason`")?,
            says: section.text("says", "say in a few words what it means")?,
        })
    }

    /// The name that stand-down facts carry.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// What it means.
    pub fn says(&self) -> &str {
        &self.says
    }
}

/// One row of a hint's table.
#[derive(Debug, Clone, PartialEq)]
struct HintRow {
    band: Band,
    gives: String,
}

/// A published or customary value, shown beside a step. Never a gate.
#[derive(Debug, Clone, PartialEq)]
pub struct Hint {
    name: String,
    step: String,
    says: String,
    source: String,
    rows: Vec<HintRow>,
}

impl Hint {
    pub(crate) fn read(section: &Section<'_>, steps: &[String]) -> Result<Self, StandardError> {
        section.only(&["name", "step", "says", "source", "rows"])?;
        let words: Vec<&str> = steps.iter().map(String::as_str).collect();
        Ok(Self {
            name: section.text("name", "give the hint a name")?,
            step: section.word("step", &words)?,
            says: section.text("says", "write the hint")?,
            source: section.text("source", "name where it comes from, or write \"common practice\"")?,
            rows: section
                .sections("rows")?
                .iter()
                .map(read_row)
                .collect::<Result<_, _>>()?,
        })
    }

    /// Its name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The step beside which it is shown.
    pub fn step(&self) -> &str {
        &self.step
    }

    /// The hint itself.
    pub fn says(&self) -> &str {
        &self.says
    }

    /// Where it comes from.
    pub fn source(&self) -> &str {
        &self.source
    }

    /// What its table gives for `measure`, where it has a row for it.
    pub fn look_up(&self, measure: &Measure) -> Option<&str> {
        self.rows
            .iter()
            .find(|row| row.band.holds(measure))
            .map(|row| row.gives.as_str())
    }
}

fn read_row(section: &Section<'_>) -> Result<HintRow, StandardError> {
    section.only(&[&BAND_KEYS[..], &["gives"]].concat())?;
    let band = Band::read(section, None)?;
    Ok(HintRow {
        band: band.ok_or_else(|| section.missing("at-least", "write for which measures the row holds"))?,
        gives: section.text("gives", "write what the row gives")?,
    })
}

/// One thing to bring to a job.
#[derive(Debug, Clone, PartialEq)]
pub struct KitItem {
    item: String,
    count: u32,
    applies: Applies,
}

impl KitItem {
    pub(crate) fn read(section: &Section<'_>) -> Result<Self, StandardError> {
        section.only(&[&["item", "count"][..], &Applies::KEYS].concat())?;
        Ok(Self {
            item: section.text("item", "name the thing to bring")?,
            count: section.whole("count", 1)?,
            applies: Applies::read(section)?,
        })
    }

    /// What it is.
    pub fn item(&self) -> &str {
        &self.item
    }

    /// How many.
    pub fn count(&self) -> u32 {
        self.count
    }

    /// For which trailers.
    pub fn applies(&self) -> &Applies {
        &self.applies
    }
}

#[cfg(test)]
#[path = "advice_tests.rs"]
mod tests;
