//! A finding in words, and the same advice as data for a page.

use gladhand_facts::DeviceKey;
use serde::{Deserialize, Serialize};

/// A finding in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Described {
    /// What is contradicted or missing, with the names of people and devices.
    pub says: String,
    /// What to do.
    pub next: String,
    /// The same as data.
    pub step: NextStep,
}

/// What to do about a finding, so that a page can offer a button where a terminal prints a sentence.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NextStep {
    /// What to do.
    pub step: Step,
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
    /// The device that it is about.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub device: Option<DeviceKey>,
    /// The finding to rule on, where a ruling may end it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub finding: Option<String>,
}

impl NextStep {
    /// A step that names nothing yet.
    pub fn new(step: Step) -> Self {
        Self {
            step,
            job: None,
            check: None,
            camera: None,
            tracker: None,
            device: None,
            finding: None,
        }
    }
}

/// What can be asked of a person. In JSON and for a page the name in kebab case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Step {
    /// The finding is cleared.
    Nothing,
    /// Record an unlink for each link that is wrong.
    Unlink,
    /// Record the link, then sign off again.
    Link,
    /// Check that the settings are live, prove the fit anew, then sign off again.
    CheckSettings,
    /// Find out by the server's time when the settings went live.
    CompareSettingsTime,
    /// Request a new proof picture and judge it.
    RequestProof,
    /// Find out by the server's time when the picture was taken.
    CompareProofTime,
    /// Judge the picture once more, with every answer.
    JudgeProof,
    /// Set fields of the job.
    SetFields,
    /// Record a check that is missing, then sign off again.
    RecordCheck,
    /// Put it right, record the check again, then sign off again.
    RepeatCheck,
    /// Ask the office about a check.
    AskOffice,
    /// Look behind the wall for damaged freight.
    LookBehindWall,
    /// Seal the pilot hole.
    SealPilotHole,
    /// Stand one of the jobs down.
    StandDown,
    /// Replace a part, or correct the stock list or the job's fleet.
    ReplacePart,
    /// Read a label again.
    ReadLabel,
    /// Compare camera and tracker on the trailer with what the job or the lists name.
    ComparePair,
    /// Judge the picture again with the picture named.
    NamePicture,
    /// Have the withdrawal approved by somebody else.
    Approve,
    /// Check the pair, prove the fit anew, then sign off again.
    SignOffAgain,
    /// Set a device's clock.
    SetClock,
    /// Find out which copy of a device is to go on.
    FindCopies,
    /// Update this node.
    Update,
}
