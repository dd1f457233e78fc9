//! What to do next, as data: a page offers a button where a terminal shows a command.

use gladhand_reconcile::JobView;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::advice::quoted;

/// What a step records.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum StepKind {
    /// A check of the work standard.
    RecordCheck,
    /// A field of the job.
    SetField,
    /// The stand-down of the job.
    StandDown,
    /// A note on the job.
    Note,
    /// The link of a camera and a tracker.
    Link,
    /// That the tie of a camera and a tracker was taken off.
    Unlink,
    /// That settings were asked for.
    SettingsAsked,
    /// That settings are live.
    SettingsLive,
    /// That a proof picture was asked for.
    ProofAsked,
    /// That a proof picture was taken.
    ProofTaken,
    /// The judgement of a proof picture.
    ProofJudged,
    /// The sign-off of the job.
    SignOff,
}

/// One thing to record next. A value that is not known in advance (a depth, an answer) is a word in capitals in `command`,
/// and `with` says what belongs in its place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Step {
    /// What it records.
    pub step: StepKind,
    /// The job that it belongs to.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub job: Option<String>,
    /// The check to record; absent unless `step` is `record-check`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub check: Option<String>,
    /// The field of the job to set; absent unless `step` is `set-field`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub field: Option<String>,
    /// The unit in which the value is usually given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// What the work standard takes as good, for reading.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub range: Option<String>,
    /// The words to choose from, or the names of the answers to give.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub choices: Vec<String>,
    /// The command line that records it.
    pub command: String,
    /// What to write in the place of each word in capitals, for reading.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub with: Option<String>,
}

impl Step {
    /// A step of `job`. `command` makes the command line from the job's name as a shell takes it.
    pub fn of(step: StepKind, job: &JobView, command: impl FnOnce(String) -> String) -> Self {
        Self {
            step,
            job: Some(job.job.clone()),
            check: None,
            field: None,
            unit: None,
            range: None,
            choices: Vec::new(),
            command: command(quoted(&job.job)),
            with: None,
        }
    }

    /// With what to write in the place of the words in capitals.
    #[must_use]
    pub fn with(self, with: &str) -> Self {
        Self {
            with: Some(with.to_owned()),
            ..self
        }
    }
}
