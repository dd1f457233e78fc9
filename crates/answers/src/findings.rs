//! Findings as they are shown.

use gladhand_facts::FactId;
use gladhand_reconcile::finding::Ruling;
use gladhand_reconcile::{Finding, Names, describe};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A finding as it is shown.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShownFinding {
    /// The same on every node for the same rule and subject.
    pub id: String,
    /// The rule.
    pub rule: String,
    /// How much it matters.
    #[schemars(with = "String")]
    pub severity: gladhand_reconcile::Severity,
    /// The subject.
    pub subject: String,
    /// The jobs that it touches.
    pub jobs: Vec<String>,
    /// The facts that make it.
    #[schemars(with = "Vec<String>")]
    pub facts: Vec<FactId>,
    /// Whether the recorders could have known.
    #[schemars(with = "String")]
    pub standing: gladhand_reconcile::Standing,
    /// Where it stands.
    #[schemars(with = "String")]
    pub status: gladhand_reconcile::Status,
    /// One plain sentence.
    pub says: String,
    /// What to do.
    pub next: String,
    /// What settled it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<std::collections::BTreeMap<String, String>>")]
    pub ruling: Option<Ruling>,
}

impl ShownFinding {
    /// For showing.
    pub fn of(f: &Finding, names: &dyn Names) -> Self {
        let described = describe(f, names);
        Self {
            id: f.id.clone(),
            rule: f.rule.clone(),
            severity: f.severity,
            subject: f.subject.text().into_owned(),
            jobs: f.jobs.clone(),
            facts: f.facts.clone(),
            standing: f.standing,
            status: f.status,
            says: described.says,
            next: described.next,
            ruling: f.ruling.clone(),
        }
    }

    /// Whether somebody has to act.
    pub fn is_open(&self) -> bool {
        self.status == gladhand_reconcile::Status::Open
    }
}
