//! The script of the demo: what `demo-data/story.toml` may say.

use serde::Deserialize;
use serde_json::{Map, Value};

use crate::failure::Failure;

/// The whole script. Keys that only its check reads (`fleet`, `yard`, `expected`) are passed over.
#[derive(Debug, Deserialize)]
pub(super) struct Story {
    /// What it is called.
    pub(super) title: String,
    /// What happens, in causal order.
    pub(super) step: Vec<Step>,
}

/// One step.
#[derive(Debug, Deserialize)]
pub(super) struct Step {
    /// One sentence for the reader.
    pub(super) title: String,
    /// What is done.
    #[serde(flatten)]
    pub(super) action: Action,
}

#[derive(Debug, Deserialize)]
#[serde(tag = "action", rename_all = "kebab-case")]
pub(super) enum Action {
    Setup {
        device: String,
        depot: bool,
        person: String,
    },
    Join {
        device: String,
    },
    Record {
        device: String,
        file: String,
    },
    Bundle {
        from: String,
        to: String,
        by: String,
    },
    Show {
        device: String,
        #[serde(flatten)]
        show: Show,
    },
    Ruling {
        device: String,
        rule: String,
        subject: String,
        /// The rest are keys of the fact.
        #[serde(flatten)]
        fact: Map<String, Value>,
    },
}

#[derive(Debug, Deserialize)]
#[serde(tag = "what", rename_all = "kebab-case")]
pub(super) enum Show {
    Findings {
        rule: Option<String>,
        #[serde(default)]
        open: bool,
    },
    History {
        job: Option<String>,
        camera: Option<String>,
    },
    Status,
    Report {
        from: Option<String>,
        to: Option<String>,
        yard: Option<String>,
    },
}

impl Story {
    pub(super) fn read(text: &str) -> Result<Self, Failure> {
        toml::from_str(text).map_err(|e| Failure::failed(format!("demo-data/story.toml: {e}")))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_script_reads() {
        let story = Story::read(super::super::data::STORY).unwrap();
        assert!(story.step.len() > 20, "{}", story.step.len());
        let bundles = story
            .step
            .iter()
            .filter(|s| matches!(s.action, Action::Bundle { .. }))
            .count();
        assert!(bundles >= 8, "{bundles}");
    }
}
