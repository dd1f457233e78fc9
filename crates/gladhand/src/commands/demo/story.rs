//! The script of the demo: what `demo-data/story.toml` may say.

use serde::Deserialize;
use serde_json::{Map, Value};

use crate::failure::Failure;

/// The whole script. Keys that only its check reads (`fleet`, `yard`, `expected`) are passed over.
#[derive(Debug, Deserialize)]
pub(super) struct Story {
    /// What it is called.
    pub(super) title: String,
    /// What a reader knows before it begins.
    pub(super) introduction: String,
    /// What happens, in causal order.
    pub(super) step: Vec<Step>,
}

/// One step.
#[derive(Debug, Deserialize)]
pub(super) struct Step {
    /// One sentence for the reader.
    pub(super) title: String,
    /// What the clocks show (RFC 3339).
    pub(super) time: String,
    /// With which a chapter of the short telling begins.
    pub(super) chapter: Option<Chapter>,
    /// What is done.
    #[serde(flatten)]
    pub(super) action: Action,
}

/// A part of the day as it is told on one screen.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Chapter {
    /// From when on, as people say it.
    pub(super) hour: String,
    /// What happens.
    pub(super) says: String,
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
        /// The device that must show just the same.
        #[serde(rename = "same-as")]
        same_as: Option<String>,
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

    /// The devices, in the order in which their homes are made.
    pub(super) fn devices(&self) -> impl Iterator<Item = &str> {
        self.step.iter().filter_map(|step| match &step.action {
            Action::Setup { device, .. } => Some(device.as_str()),
            _ => None,
        })
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
