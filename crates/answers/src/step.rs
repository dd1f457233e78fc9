//! What to do next, as data: a page offers a button where a terminal shows a command.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One thing to do or to record next. What is not known in advance (a depth, an answer) is left to whoever does it:
/// `command` holds a word in capitals in its place, and `with` says what belongs there.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Step {
    /// What kind of step it is: `record-check`, `set-field`, `stand-down`, `note`.
    pub step: String,
    /// The job it belongs to.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub job: Option<String>,
    /// The check to record, where it is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub check: Option<String>,
    /// The field of the job to set, where it is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub field: Option<String>,
    /// The unit that a value is usually given in.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// What the work standard takes as good, for reading.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub range: Option<String>,
    /// The words or answers to choose from, where it is a choice.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub choices: Vec<String>,
    /// The command line that records it.
    pub command: String,
    /// What to write in the place of the word in capitals.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub with: Option<String>,
}

impl Step {
    /// With the command line that records it.
    #[must_use]
    pub fn command(self, command: String) -> Self {
        Self { command, ..self }
    }

    /// With what to write in the place of the word in capitals.
    #[must_use]
    pub fn with(self, with: &str) -> Self {
        Self {
            with: Some(with.to_owned()),
            ..self
        }
    }
}
