//! Reasons about sign-offs.

use serde::{Deserialize, Serialize};

use crate::approvals::Flaw;
use crate::reason::fact_ref::{FactLabel, FactRef, PairRef};
use crate::reason::knowledge::Knowledge;

/// A sign-off that should not have been made, with what is wrong with it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct BadSignOff<T> {
    /// The sign-off. Of several bad ones the worst.
    pub sign_off: FactRef,
    /// What is wrong with it.
    pub fault: T,
    /// Whether the signer could have known.
    pub knowledge: Knowledge,
    /// Whether facts that were recorded after it, with an earlier time, would put it right.
    #[serde(default)]
    pub afterwards: bool,
    /// What cleared it; `None` while it is not cleared.
    pub resolution: Option<Resolution>,
}

/// What clears a finding about a sign-off.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Resolution {
    /// The job was signed off again.
    SignedAgain(Vec<FactRef>),
    /// The job was stood down.
    StoodDown(Vec<FactRef>),
}

/// Why no link was live at a sign-off.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MissingLink {
    /// No link of the job's parts was ever recorded.
    Never,
    /// The links that the signer had seen were taken off, by these unlinks.
    TakenOff(Vec<PairRef>),
    /// The signer had seen none of these links.
    NotSeen(Vec<PairRef>),
    /// A camera was to be taken off, and these links are live.
    StillLinked(Vec<PairRef>),
}

/// The pair is not the one that the job names.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct OtherPair {
    /// The links that were live.
    pub linked: Vec<PairRef>,
    /// The cameras that the job names, where none of them is linked.
    pub cameras: Vec<String>,
    /// The trackers that the job names, where none of them is linked.
    pub trackers: Vec<String>,
}

/// The picture belongs to another pair, or its steps were not in order.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct ForeignProof {
    /// The pair that was signed for.
    pub pair: PairRef,
    /// What was done too early, or perhaps too early.
    pub steps: Vec<ProofStep>,
}

/// A step of a proof.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct ProofStep {
    /// `asked`, `taken` or `judged`.
    pub step: String,
    /// The fact.
    pub fact: FactRef,
}

/// Something failed after the sign-off, or nobody can tell whether before it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct FailedSince {
    /// What failed.
    pub failures: Vec<Failure>,
}

/// Something that failed.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Failure {
    /// What the fact says.
    pub what: FactLabel,
    /// What is wrong with it, as the trade says it; `None` where the fact says it all.
    pub why: Option<String>,
    /// The fact.
    pub fact: FactRef,
}

/// Linked trackers whose settings were not certainly live.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct NotLive {
    /// The trackers; at least one.
    pub trackers: Vec<TrackerSettings>,
}

/// A linked tracker with its `settings live` facts.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct TrackerSettings {
    /// The tracker.
    pub tracker: String,
    /// Its links that were live at the sign-off.
    pub links: Vec<FactRef>,
    /// The facts that say its settings were live.
    pub live: Vec<FactRef>,
    /// The facts that say they were asked for or failed, where those are, or may be, the latest before the sign-off.
    pub overtaking: Vec<FactRef>,
}

/// Why no picture was judged good before a sign-off.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MissingProof {
    /// No picture was ever judged.
    NeverJudged,
    /// These judged it, and not as good.
    JudgedBad(Vec<FactRef>),
    /// These judged it good, but not before the sign-off.
    NotBefore(Vec<FactRef>),
}

/// What the work standard requires and nobody recorded.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct MissingChecks {
    /// Fields of the job without which nobody can say which checks are required.
    pub fields: Vec<String>,
    /// The checks.
    pub checks: Vec<MissingCheck>,
}

/// A required check that is absent, or recorded in a way that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct MissingCheck {
    /// Its name.
    pub check: String,
    /// Why what was recorded cannot be read, as the trade says it; `None` when nothing was recorded.
    pub why: Option<String>,
}

/// A required check that failed.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct FailedCheck {
    /// Its name.
    pub check: String,
    /// Why it fails, as the trade says it.
    pub why: String,
    /// The fact that fails.
    pub fact: FactRef,
    /// The approvals of it that do not count, and why.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub not_counting: Vec<NotCounting>,
}

/// An approval that does not count.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct NotCounting {
    /// The approval.
    pub approval: FactRef,
    /// Why it does not.
    pub flaw: Flaw,
}

/// The pair of a job was changed after its sign-off.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct ChangedPair {
    /// The sign-off.
    pub sign_off: FactRef,
    /// The changes.
    pub changes: Vec<Change>,
    /// Whether those who changed it could have known of the sign-off.
    pub knowledge: Knowledge,
    /// What cleared it; `None` while it is not cleared.
    pub resolution: Option<Resolution>,
}

/// A link, an unlink or settings.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Change {
    /// What it says.
    pub what: FactLabel,
    /// The fact.
    pub fact: FactRef,
}
