//! What speaks against a fact that was just recorded, although it contradicts nothing yet.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::standard::Office;
use crate::text;

/// Something that speaks against what was recorded, although it contradicts nothing yet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Warning {
    /// What it is.
    #[serde(flatten)]
    pub what: Warned,
    /// The warning in words.
    pub says: String,
}

/// What a warning is about.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "warning", rename_all = "kebab-case")]
pub enum Warned {
    /// Nothing was known of the job.
    UnknownJob {
        /// The job.
        job: String,
    },
    /// The work standard has no check of that name.
    NoSuchCheck {
        /// The check.
        check: String,
        /// The version of the work standard.
        standard: String,
        /// The name that was probably meant.
        near: Option<String>,
    },
    /// The work standard lists no such reason for a stand-down.
    NoSuchReason {
        /// The reason.
        reason: String,
        /// The version of the work standard.
        standard: String,
        /// The reasons that it lists.
        reasons: Vec<String>,
    },
    /// The check does not stand as the work standard wants it.
    CheckNotGood {
        /// The check.
        check: String,
        /// Why, in words.
        why: String,
        /// Whether the office decides what to do.
        ask_office: bool,
        /// Whom to ask; null where it is nobody's to decide, or where the work standard names nobody.
        office: Option<Office>,
        /// The checks that make it good.
        made_good_by: Vec<String>,
    },
    /// A picture of a job without a link.
    NoLink {
        /// The job.
        job: String,
    },
    /// A picture of a job whose settings are not live.
    NotLive {
        /// The job.
        job: String,
    },
    /// Settings of a tracker that no camera is linked to.
    TrackerNotLinked {
        /// The tracker.
        tracker: String,
    },
    /// A link without a job, of parts that no job names.
    LinkWithoutJob {
        /// The camera.
        camera: String,
        /// The tracker.
        tracker: String,
    },
    /// A cut that the readings before it did not clear.
    NotCleared {
        /// The answer at that moment, in one line.
        answer: String,
    },
}

impl From<Warned> for Warning {
    fn from(what: Warned) -> Self {
        let says = text::warned::warning(&what);
        Self { what, says }
    }
}
