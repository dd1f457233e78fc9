//! Reasons about proof pictures.

use serde::{Deserialize, Serialize};

use crate::interval::Interval;
use crate::reason::fact_ref::{FactRef, WrittenTime};
use crate::reason::knowledge::Knowledge;

/// A picture that was judged is, or may be, older than its request.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct OldProof {
    /// The judgement.
    pub judged: FactRef,
    /// The requests that the recorder of the judgement had seen.
    pub requests: Vec<FactRef>,
    /// When the picture was taken, as written.
    pub taken_at: Option<WrittenTime>,
    /// The same by the depot's clock, when a depot is known.
    pub taken_within: Option<Interval>,
    /// Whether the recorder of the judgement had seen the request.
    pub knowledge: Knowledge,
}

/// A picture was judged good against the answers of that same judgement.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct ContradictoryProof {
    /// The judgement.
    pub judged: FactRef,
    /// Answers that are no.
    pub answered_no: Vec<String>,
    /// Required answers that are absent.
    pub unanswered: Vec<String>,
    /// Later judgements that do not contradict themselves; empty while it is not cleared.
    pub judged_again: Vec<FactRef>,
}
