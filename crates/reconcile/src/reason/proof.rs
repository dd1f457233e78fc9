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

/// A picture was asked for before settings or doors were ready.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct HastyProof {
    /// The judgement.
    pub judged: FactRef,
    /// The requests.
    pub requests: Vec<FactRef>,
    /// What came too late, with the facts that say when.
    pub too_late: Vec<(TooLate, Vec<FactRef>)>,
    /// Whether the recorders of request and settings or doors could have known.
    pub knowledge: Knowledge,
}

/// What must come before the request of a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TooLate {
    /// The settings were live.
    Settings,
    /// The doors were closed.
    Doors,
}

/// A good judgement that stands for no picture.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct BareProof {
    /// The judgement.
    pub judged: FactRef,
    /// What is missing.
    pub why: NoPicture,
    /// Later judgements that name a picture; empty while it is not cleared.
    pub judged_again: Vec<FactRef>,
}

/// Why there is no picture.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum NoPicture {
    /// None is named.
    NotNamed,
    /// The one named was not there when it was recorded.
    Absent(String),
    /// What was there is no picture that can be read.
    Unreadable(String),
}

/// Equal picture bytes stand for several proofs.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct SharedPicture {
    /// The judgements; at least two.
    pub uses: Vec<PictureUse>,
    /// Whether their recorders could have known.
    pub knowledge: Knowledge,
}

/// A good judgement of a picture.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct PictureUse {
    /// The job.
    pub job: String,
    /// The trailers of the job.
    pub trailers: Vec<String>,
    /// The judgement.
    pub judged: FactRef,
}
