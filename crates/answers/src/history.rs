//! A history: who did what when, on which device, what they had seen by then; of everything, or of a job, camera, tracker,
//! trailer or device; now, as of a time, or as a device knew it.
//!
//! [`Found`] asks the node once; the answer and the picture are both made from what it found.

mod ask;
pub(crate) mod rows;
mod scene;

use std::collections::BTreeSet;

use gladhand_facts::{DeviceKey, FactId, name_key};
use gladhand_node::{IndexedFacts, Node, NodeError};
use gladhand_reconcile::picture::Drawn;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use crate::moment::{AskedMoment, KnownMoment};
pub use ask::{Found, HistoryQuestion};
pub use rows::{AgainstClock, CorrectedTime, FactPlace, FieldEdit, HistoryRow, OtherValue, SeenBy};

use crate::shown_finding::ShownFinding;

/// A history.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct History {
    /// One for each fact; a fact stands after those that its recorder had seen.
    pub rows: Vec<HistoryRow>,
    /// What it is a history of.
    pub scope: HistoryScope,
    /// Whose knowledge this is; absent when it is what is known here now.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub as_known_by: Option<KnownMoment>,
    /// Only what happened from then on by the depot's clock, as it was asked for (RFC 3339).
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub since: Option<String>,
    /// Only what had happened by then by the depot's clock, as it was asked for (RFC 3339).
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub as_of: Option<String>,
    /// How many facts were left out because of `as_of` although, with the clocks in doubt, they may have happened by then.
    pub perhaps_too: u64,
    /// The open findings that rest on these facts or are about the job: what is known here now speaks against what follows.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub open: Vec<ShownFinding>,
    /// The findings that were known, if they were asked for: all of them for a history of everything, otherwise those that
    /// have to do with its facts.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub findings: Option<Vec<ShownFinding>>,
    /// What was drawn, if a picture was asked for.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub picture: Option<Picture>,
}

/// What a history is about. A fact belongs to all that is named; where nothing is named it is a history of everything.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct HistoryScope {
    /// The job.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub job: Option<String>,
    /// The camera.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub camera: Option<String>,
    /// The tracker.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub tracker: Option<String>,
    /// The trailer, by its unit number, with all its jobs.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub trailer: Option<String>,
    /// The name of the device that recorded.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub device: Option<String>,
    /// The public key of that device.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    #[schemars(with = "Option<String>")]
    pub device_key: Option<DeviceKey>,
}

/// A picture of a history, and what it holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Picture {
    /// The file that it was written to, as it was named.
    pub file: String,
    /// How many facts it shows.
    pub facts: u64,
    /// How many lanes it has: one for each log.
    pub lanes: u64,
    /// How many lines join lanes: at each a device had newly seen another's entries.
    pub meetings: u64,
    /// How many open findings it shows.
    pub open_findings: u64,
}

impl History {
    /// With the open findings that touch it, as they are known here now. Not for what somebody else knew.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn with_open_findings(self, node: &Node) -> Result<Self, NodeError> {
        if self.as_known_by.is_some() {
            return Ok(self);
        }
        let shown: BTreeSet<FactId> = self.rows.iter().map(|row| row.id).collect();
        let mut open = node.kept_findings()?;
        open.retain(|finding| {
            let of_job = self
                .scope
                .job
                .as_ref()
                .is_some_and(|job| finding.jobs.contains(&name_key(job)));
            finding.is_open() && (of_job || finding.facts.iter().any(|fact| shown.contains(fact)))
        });
        let open = ShownFinding::all(&open, &IndexedFacts::new(node));
        Ok(Self { open, ..self })
    }
}

impl Picture {
    /// A picture in `file`.
    pub fn new(file: &str, holds: Drawn) -> Self {
        Self {
            file: file.to_owned(),
            facts: holds.facts as u64,
            lanes: holds.lanes as u64,
            meetings: holds.meetings as u64,
            open_findings: holds.clashes as u64,
        }
    }
}

#[cfg(test)]
mod tests;
