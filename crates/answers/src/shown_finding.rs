//! A finding as it is shown: the one place in which a finding of the reconciler is put into words for people.

use gladhand_facts::{DeviceKey, FactId};
use gladhand_reconcile::finding::Standing;
use gladhand_reconcile::words::{NextStep, Step as StepName};
use gladhand_reconcile::{Finding, Names, Severity, Status, ToldFinding};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A finding as it is shown.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShownFinding {
    /// Its id, the same on every node for the same rule and subject.
    pub id: String,
    /// The name of the rule.
    pub rule: String,
    /// How much it matters: `stop` (the trailer should not be relied on), `ask` (a person must look), `note`.
    #[schemars(with = "String", extend("enum" = ["stop", "ask", "note"]))]
    pub severity: Severity,
    /// The name of the subject: a code, a job, a unit number, a device's key.
    pub subject: String,
    /// The jobs that it touches, sorted.
    pub jobs: Vec<String>,
    /// The trailers that it touches.
    pub trailers: Vec<String>,
    /// The ids of the facts that make it, sorted.
    #[schemars(with = "Vec<String>")]
    pub facts: Vec<FactId>,
    /// Whether the recorders could have known: `unaware`, `aware`, or `-` where the question does not arise.
    #[schemars(with = "String", extend("enum" = ["unaware", "aware", "-"]))]
    pub standing: Standing,
    /// Whether somebody has to act: `open`, `settled` by a ruling, `cleared` by later facts.
    #[schemars(with = "String", extend("enum" = ["open", "settled", "cleared"]))]
    pub status: Status,
    /// What is wrong, in a sentence.
    pub says: String,
    /// What to do, in a sentence.
    pub next: String,
    /// What `next` says, as data.
    pub step: FindingStep,
    /// The ruling that settled it; absent unless its status is `settled`.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub ruling: Option<ShownRuling>,
}

/// The words of [`StepName`], for the schema.
const STEP_WORDS: [&str; 24] = [
    "nothing",
    "unlink",
    "link",
    "check-settings",
    "compare-settings-time",
    "request-proof",
    "compare-proof-time",
    "judge-proof",
    "set-fields",
    "record-check",
    "repeat-check",
    "ask-office",
    "look-behind-wall",
    "seal-pilot-hole",
    "stand-down",
    "replace-part",
    "read-label",
    "compare-pair",
    "name-picture",
    "approve",
    "sign-off-again",
    "set-clock",
    "find-copies",
    "update",
];

/// What to do about a finding, as data: a page offers a button where a terminal shows a sentence.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct FindingStep {
    /// What to do; `nothing` when the finding is cleared.
    #[schemars(with = "String", extend("enum" = STEP_WORDS))]
    pub step: StepName,
    /// The job that it is to be done in.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub job: Option<String>,
    /// The check to record. Of several missing or failed ones the first.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub check: Option<String>,
    /// The camera that it is about.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub camera: Option<String>,
    /// The tracker that it is about.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub tracker: Option<String>,
    /// The public key of the device that it is about.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    #[schemars(with = "Option<String>")]
    pub device: Option<DeviceKey>,
    /// The finding to rule on, where a ruling may end it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub finding: Option<String>,
}

impl FindingStep {
    fn of(step: &NextStep) -> Self {
        Self {
            step: step.step,
            job: step.job.clone(),
            check: step.check.clone(),
            camera: step.camera.clone(),
            tracker: step.tracker.clone(),
            device: step.device,
            finding: step.finding.clone(),
        }
    }
}

/// The ruling that settled a finding.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShownRuling {
    /// The word of the ruling as written: `accepted`, `corrected` or `void`.
    pub ruling: String,
    /// Who ruled, if the fact says so.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub by: Option<String>,
    /// Why, if the fact says so.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub why: Option<String>,
}

impl ShownFinding {
    /// Puts a finding into words; `names` knows what devices are called.
    pub fn of(finding: &Finding, names: &dyn Names) -> Self {
        Self::told(&ToldFinding::of(finding, names))
    }

    /// Puts several findings into words.
    pub fn all<'f>(findings: impl IntoIterator<Item = &'f Finding>, names: &dyn Names) -> Vec<Self> {
        findings.into_iter().map(|finding| Self::of(finding, names)).collect()
    }

    /// A finding that the reconciler has put into words.
    pub fn told(finding: &ToldFinding) -> Self {
        Self {
            id: finding.id.clone(),
            rule: finding.rule.clone(),
            severity: finding.severity,
            subject: finding.subject.clone(),
            jobs: finding.jobs.clone(),
            trailers: finding.trailers.clone(),
            facts: finding.facts.clone(),
            standing: finding.standing,
            status: finding.status,
            says: finding.says.clone(),
            next: finding.next.clone(),
            step: FindingStep::of(&finding.step),
            ruling: finding.ruling.as_ref().map(|ruling| ShownRuling {
                ruling: ruling.ruling.clone(),
                by: ruling.by.clone(),
                why: ruling.why.clone(),
            }),
        }
    }

    /// Whether somebody has to act.
    pub fn is_open(&self) -> bool {
        self.status == Status::Open
    }

    /// Whether a trailer should not be relied on because of it.
    pub fn is_open_stop(&self) -> bool {
        self.is_open() && self.severity == Severity::Stop
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_schema_lists_every_step() {
        let wrong = serde_json::from_value::<StepName>("no such step".into()).unwrap_err();
        let known: Vec<String> = STEP_WORDS.iter().map(|word| format!("`{word}`")).collect();
        let expected = format!("expected one of {}", known.join(", "));
        assert!(wrong.to_string().ends_with(&expected), "{wrong}");
    }
}
