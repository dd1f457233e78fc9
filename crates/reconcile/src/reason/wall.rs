//! Reasons about holes in the wall.

use gladhand_trade::Answer;
use serde::{Deserialize, Serialize};

use crate::reason::fact_ref::FactRef;
use crate::reason::knowledge::Knowledge;

/// The camera hole was cut while the wall was not cleared.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct UnclearedCut {
    /// The first such cut.
    pub cut: FactRef,
    /// The answer at that moment.
    pub answer: NotClear,
    /// Whether the cutter could have known.
    pub knowledge: Knowledge,
    /// The facts that say the trailer was empty; empty while it is not cleared.
    pub empty_by: Vec<FactRef>,
}

/// A clearance answer other than clear.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum NotClear {
    /// The wall must not be cut.
    Blocked {
        /// Why, as the trade says it.
        why: String,
    },
    /// The readings do not decide it.
    NotDecidable {
        /// Why, as the trade says it.
        why: String,
    },
    /// This check was still to be recorded.
    Next {
        /// Its name.
        check: String,
    },
    /// These fields or checks were not recorded.
    Unknown {
        /// Their names.
        missing: Vec<String>,
    },
}

impl NotClear {
    /// Whether the readings say no, or do not decide; otherwise some of them were only missing.
    pub fn is_no(&self) -> bool {
        matches!(self, Self::Blocked { .. } | Self::NotDecidable { .. })
    }

    /// `None` when the answer is clear.
    pub fn of(answer: Answer) -> Option<Self> {
        Some(match answer {
            Answer::Clear { .. } => return None,
            Answer::Blocked { why, .. } => Self::Blocked { why },
            Answer::NotDecidable { why, .. } => Self::NotDecidable { why },
            Answer::Next { check, .. } => Self::Next { check },
            Answer::Unknown { missing } => Self::Unknown {
                missing: missing.into_iter().map(str::to_owned).collect(),
            },
        })
    }
}

/// A pilot hole that no camera hole will replace, and that nobody sealed.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct OpenPilotHole {
    /// The first fact that shows the hole.
    pub pilot: FactRef,
    /// Why no camera hole will be cut there.
    pub cause: NoCut,
    /// Whether the recorders of hole and stand-down could have known of each other.
    pub knowledge: Knowledge,
    /// The facts that say it was sealed; empty while it is not cleared.
    pub sealed_by: Vec<FactRef>,
}

/// Why no camera hole will be cut.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum NoCut {
    /// The job was stood down.
    StoodDown(Vec<FactRef>),
    /// The wall is blocked.
    Blocked {
        /// Why, as the trade says it.
        why: String,
    },
    /// The readings do not clear the wall.
    NotDecidable {
        /// Why, as the trade says it.
        why: String,
    },
}

/// Checks or readings were taken back.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct WithdrawnReadings {
    /// What was taken back; at least one.
    pub readings: Vec<TakenBack>,
}

/// A check or reading that was taken back.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct TakenBack {
    /// The check's name.
    pub check: String,
    /// The reading.
    pub reading: FactRef,
    /// Why.
    pub why: String,
    /// The withdrawal.
    pub by: FactRef,
    /// Who approved it, where that was needed.
    pub approved_by: Option<FactRef>,
    /// Whether it counts. Otherwise somebody else must approve first.
    pub counts: bool,
}
