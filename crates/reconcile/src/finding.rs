//! A finding: a contradiction or gap that the merged facts hold, as data.
//!
//! A finding holds no sentence and no name of a device: [`crate::words`] makes these from the [`Reason`]. Its id depends on the
//! rule and the subject alone, so it is the same on every node and stays the same while the finding opens, settles and clears.

use gladhand_facts::FactId;
use serde::{Deserialize, Serialize};

use crate::reason::Reason;
use crate::reason::fact_ref::{FactLabel, FactRef};
use crate::subject::Subject;

/// How much it matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing.
    Note,
    /// A person must look.
    Ask,
    /// The trailer should not be relied on.
    Stop,
}

/// Whether the recorders of the facts that clash could have known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Standing {
    /// The facts are concurrent: nobody could have known.
    #[serde(rename = "unaware")]
    Unaware,
    /// One recorder had seen the other's fact.
    #[serde(rename = "aware")]
    Aware,
    /// The question does not arise.
    #[serde(rename = "-")]
    None,
}

impl Severity {
    /// As it is written.
    pub fn word(self) -> &'static str {
        match self {
            Self::Stop => "stop",
            Self::Ask => "ask",
            Self::Note => "note",
        }
    }
}

impl Standing {
    /// As it is written.
    pub fn word(self) -> &'static str {
        match self {
            Self::Unaware => "unaware",
            Self::Aware => "aware",
            Self::None => "-",
        }
    }

    /// The standing of a clash in which some pair of facts is ordered, or none is.
    pub fn of(ordered: bool) -> Self {
        if ordered { Self::Aware } else { Self::Unaware }
    }
}

/// Whether somebody has to act.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Status {
    /// Somebody has to act.
    Open,
    /// A ruling that had seen all of its facts settled it.
    Settled,
    /// Later facts removed the cause.
    Cleared,
}

/// The ruling that settled a finding.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Ruling {
    /// `accepted`, `corrected` or `void`.
    pub ruling: String,
    /// Who ruled, if the fact says so.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub by: Option<String>,
    /// Why.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub why: Option<String>,
}

/// A fact that put a finding right.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PutRight {
    /// In which way.
    pub how: HowPutRight,
    /// What it says.
    pub what: FactLabel,
    /// The fact.
    pub fact: FactRef,
}

/// In which way a fact put a finding right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum HowPutRight {
    /// It removed the cause.
    ByFact,
    /// A later job on the trailer was signed with the finding in view, and speaks for the trailer.
    ByLaterJob,
}

/// A finding as it is stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Finding {
    /// The same on every node for the same rule and subject.
    pub id: String,
    /// The rule.
    pub rule: String,
    /// How much it matters.
    pub severity: Severity,
    /// What it is about.
    pub subject: Subject,
    /// The jobs that it touches, by the keys of their names, sorted.
    pub jobs: Vec<String>,
    /// The trailers that it touches, by the keys of their numbers, sorted.
    #[serde(default)]
    pub trailers: Vec<String>,
    /// The facts that make it, sorted.
    pub facts: Vec<FactId>,
    /// Whether the recorders could have known.
    pub standing: Standing,
    /// Whether somebody has to act.
    pub status: Status,
    /// Why the rule finds it.
    pub reason: Reason,
    /// What put it right, where the reason does not say so itself.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub put_right: Option<PutRight>,
    /// What settled it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub ruling: Option<Ruling>,
}

impl Finding {
    /// Whether somebody has to act.
    pub fn is_open(&self) -> bool {
        self.status == Status::Open
    }
}

/// The id of the finding of `rule` on `subject`: `f-` and twelve letters of five bits each.
pub fn finding_id(rule: &str, subject: &Subject) -> String {
    id_of(rule, subject, &subject.text())
}

/// The id that a version which compared names as they are written gave the finding on a subject so written. Rulings keep it for ever.
pub(crate) fn id_of(rule: &str, subject: &Subject, written: &str) -> String {
    const LETTERS: &[u8; 32] = b"0123456789abcdefghjkmnpqrstvwxyz";
    let mut hasher = blake3::Hasher::new();
    for part in [rule, "\0", subject.class().name(), "\0", written] {
        hasher.update(part.as_bytes());
    }
    let letter = |b: &u8| LETTERS.get(usize::from(b & 31)).map_or('0', |l| char::from(*l));
    let name: String = hasher.finalize().as_bytes().iter().take(12).map(letter).collect();
    format!("f-{name}")
}
