//! The answer to the question whether the wall may be cut.
//!
//! Not here: how it is found. No answer is permission: site rules, local codes and licensed practice come first.

use gladhand_facts::FactId;
use serde::Serialize;

/// Somebody's word that readings which do not decide may be taken as clear.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Approval {
    /// Who approves.
    pub by: String,
    /// The fact that says so.
    pub fact: FactId,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "answer", rename_all = "kebab-case")]
pub enum Answer {
    /// The wall may be cut, within these limits.
    Clear {
        /// What the work is limited to.
        limits: Vec<String>,
        /// The approval that makes it clear, where the readings alone do not.
        #[serde(skip_serializing_if = "Option::is_none")]
        by_approval: Option<Approval>,
    },
    /// The wall must not be cut.
    Blocked {
        /// Why, in one sentence.
        why: String,
        /// What to put right, in order.
        make_good: Vec<String>,
    },
    /// The readings do not decide it: treated as blocked until the office has answered.
    NotDecidable {
        /// Why, in one sentence.
        why: String,
        /// Whom to ask, and what to do until then.
        ask: String,
        /// The check that may decide it, where recording it anew can.
        #[serde(skip_serializing_if = "Option::is_none")]
        again: Option<String>,
        /// Whether an approval can make it clear; where something has to be recorded anew it cannot.
        may_approve: bool,
    },
    /// Something is still to be done and recorded.
    Next {
        /// The check to record next.
        check: String,
        /// How to do it.
        how: String,
        /// What to mind before doing it.
        cautions: Vec<String>,
    },
    /// No answer until these are recorded.
    Unknown {
        /// Fields of the job, or checks.
        missing: Vec<&'static str>,
    },
}

impl Answer {
    /// Whether the wall may be cut.
    pub fn is_clear(&self) -> bool {
        matches!(self, Self::Clear { .. })
    }

    /// Whether it must not be cut: blocked, or not decidable, which is treated the same.
    pub fn is_blocked(&self) -> bool {
        matches!(self, Self::Blocked { .. } | Self::NotDecidable { .. })
    }
}
