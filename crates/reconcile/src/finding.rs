//! A finding: a contradiction or gap that the merged facts hold.
//!
//! A rule makes a [`Draft`]; [`Draft::finish`] names it, weighs the rulings and gives the [`Finding`] that
//! people and scripts see. The id depends on the rule and the subject alone, so it is the same on every node
//! and stays the same while the finding opens, settles and clears.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::{FactId, Kind, Place};
use serde::{Deserialize, Serialize};

use crate::judge::World;
use crate::recorded_fact::{RecordedFact, latest};
use crate::subject::{Class, Subject};
use crate::words::with_offsets;

/// How much it matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth awareness.
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
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Stop => "stop",
            Self::Ask => "ask",
            Self::Note => "note",
        }
    }
}

impl Standing {
    /// The word for it.
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

/// Where a finding stands.
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

/// A finding as it is shown.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Finding {
    /// The same on every node for the same rule and subject.
    pub id: String,
    /// The rule.
    pub rule: String,
    /// How much it matters.
    pub severity: Severity,
    /// The name of the subject: a code, a job, a unit number, a device's key.
    pub subject: String,
    /// The jobs that it touches, sorted.
    pub jobs: Vec<String>,
    /// The facts that make it, sorted.
    pub facts: Vec<FactId>,
    /// Whether the recorders could have known.
    pub standing: Standing,
    /// Whether somebody has to act.
    pub status: Status,
    /// One plain sentence.
    pub says: String,
    /// What to do.
    pub next: String,
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
    const LETTERS: &[u8; 32] = b"0123456789abcdefghjkmnpqrstvwxyz";
    let mut hasher = blake3::Hasher::new();
    for part in [rule, "\0", subject.class().name(), "\0", &subject.text()] {
        hasher.update(part.as_bytes());
    }
    let letter = |b: &u8| LETTERS.get(usize::from(b & 31)).map_or('0', |l| char::from(*l));
    let name: String = hasher.finalize().as_bytes().iter().take(12).map(letter).collect();
    format!("f-{name}")
}

/// What a rule has to say about a subject.
#[derive(Debug, Clone)]
pub struct Draft {
    /// How much it matters.
    pub severity: Severity,
    /// The jobs that it touches.
    pub jobs: BTreeSet<String>,
    /// The facts that make it, in any order.
    pub evidence: Vec<Arc<RecordedFact>>,
    /// Places beside the facts that a ruling must have seen too.
    pub beyond: Vec<Place>,
    /// Whether the recorders could have known.
    pub standing: Standing,
    /// Whether later facts removed the cause.
    pub cleared: bool,
    /// One plain sentence.
    pub says: String,
    /// What to do.
    pub next: String,
}

impl Draft {
    /// An open finding that touches `jobs`; the rest is said by the calls that follow.
    pub fn new(severity: Severity, jobs: impl IntoIterator<Item = String>) -> Self {
        Self {
            severity,
            jobs: jobs.into_iter().collect(),
            evidence: Vec::new(),
            beyond: Vec::new(),
            standing: Standing::None,
            cleared: false,
            says: String::new(),
            next: String::new(),
        }
    }

    /// With these facts among those that make it.
    pub fn by(mut self, evidence: impl IntoIterator<Item = Arc<RecordedFact>>) -> Self {
        self.evidence.extend(evidence);
        self
    }

    /// With this standing.
    pub fn standing(self, standing: Standing) -> Self {
        Self { standing, ..self }
    }

    /// Open: what it says, and what to do.
    pub fn open(self, says: String, next: impl Into<String>) -> Self {
        let next = next.into();
        Self { says, next, ..self }
    }

    /// Cleared: what it says. Nobody has to do anything.
    pub fn cleared(self, says: String) -> Self {
        Self {
            says,
            next: "Nothing more to do.".to_owned(),
            cleared: true,
            ..self
        }
    }

    /// Names the draft and weighs the rulings on it.
    pub fn finish(self, world: &World<'_>, rule: &str, subject: &Subject) -> Finding {
        let id = finding_id(rule, subject);
        let ruling = self.settling_ruling(world, &id);
        let status = match (self.cleared, &ruling) {
            (true, _) => Status::Cleared,
            (false, Some(_)) => Status::Settled,
            (false, None) => Status::Open,
        };
        let facts: BTreeSet<FactId> = self.evidence.iter().map(|w| w.fact.id()).collect();
        Finding {
            id,
            rule: rule.to_owned(),
            severity: self.severity,
            subject: subject.text().into_owned(),
            jobs: self.jobs.into_iter().collect(),
            facts: facts.into_iter().collect(),
            standing: self.standing,
            status,
            says: with_offsets(&self.says),
            next: self.next,
            ruling: ruling.filter(|_| status == Status::Settled),
        }
    }

    /// The last of the rulings that had seen every fact of the finding.
    fn settling_ruling(&self, world: &World<'_>, id: &str) -> Option<Ruling> {
        let subject = Subject::from_text(Class::Finding, id)?;
        let mut rulings = world.facts.about(&subject);
        rulings.retain(|r| r.is(&Kind::Ruling) && self.seen_whole_by(r));
        let last = latest(&rulings).into_iter().max_by_key(|r| (r.stamp, r.place))?;
        Some(Ruling {
            ruling: last.owned("ruling")?,
            by: last.owned("by"),
            why: last.owned("why"),
        })
    }

    fn seen_whole_by(&self, ruling: &RecordedFact) -> bool {
        let makes_something = !self.evidence.is_empty() || !self.beyond.is_empty();
        makes_something
            && self.evidence.iter().all(|w| w.happens_before(ruling))
            && self.beyond.iter().all(|place| ruling.has_seen(place))
    }
}
