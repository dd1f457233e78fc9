//! Whether a trailer can be relied on: what all its jobs come to.
//!
//! The first of these that holds: an open stop, no; an open ask, or nobody speaks for the trailer, ask; nobody has signed, not yet; a
//! signed take-off and no pair, taken off; no pair, no; a stop about the chain from link to sign-off that only a ruling settled, by
//! ruling; otherwise yes.

use serde::{Deserialize, Serialize};

use crate::finding::{Finding, Severity, Status};
use crate::job::JobView;
use crate::purpose::Purpose;
use crate::trailer::speaker;

/// Whether a trailer can be relied on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reliance {
    /// Its pair is linked, live and proven, and nothing open speaks against it.
    Yes,
    /// Something open says that it should not be relied on, or there is no pair.
    No,
    /// A person must look first.
    Ask,
    /// Nobody has signed a job on it.
    NotYet,
    /// A signed job took the camera off.
    TakenOff,
    /// A ruling closed the question whether the chain holds, not the gap.
    ByRuling,
}

/// Why a trailer is not simply relied on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WhyNot {
    /// A finding that is an open stop.
    OpenStop,
    /// A finding that a person must look at.
    OpenAsk,
    /// Two signed jobs of which neither had seen the other.
    NobodySpeaks,
    /// No job is signed off.
    NotSigned,
    /// The camera was taken off.
    TakenOff,
    /// No camera is linked.
    NoPair,
    /// A stop that a ruling settled.
    SettledStop,
}

/// The rules about the chain link, live, asked, taken, judged, signed.
const CHAIN: [&str; 8] = [
    "signed-without-link",
    "signed-before-live",
    "signed-without-proof",
    "proof-of-another-pair",
    "proof-older-than-request",
    "proof-answers-disagree",
    "picture-used-twice",
    "failed-after-sign-off",
];

/// What `jobs`, all those on one trailer, come to, given the findings that touch them or the trailer.
pub fn reliance(jobs: &[&JobView], findings: &[&Finding]) -> (Reliance, Option<WhyNot>) {
    let worst = findings.iter().filter(|f| f.is_open()).map(|f| f.severity).max();
    let signed = jobs.iter().filter(|job| job.is_signed()).count();
    let speaker = speaker(jobs);
    let has_pair = jobs.iter().any(|job| !job.ties.live().is_empty());
    let takes_off = |job: &JobView| {
        job.latest_sign_offs()
            .iter()
            .any(|s| job.purpose_at(s) == Purpose::TakeOff)
    };
    let by_ruling =
        |f: &&Finding| f.status == Status::Settled && f.severity == Severity::Stop && CHAIN.contains(&f.rule.as_str());
    match (worst, speaker) {
        (Some(Severity::Stop), _) => (Reliance::No, Some(WhyNot::OpenStop)),
        (Some(Severity::Ask), _) => (Reliance::Ask, Some(WhyNot::OpenAsk)),
        (_, None) if signed > 0 => (Reliance::Ask, Some(WhyNot::NobodySpeaks)),
        (_, None) => (Reliance::NotYet, Some(WhyNot::NotSigned)),
        (_, Some(job)) if !has_pair && takes_off(job) => (Reliance::TakenOff, Some(WhyNot::TakenOff)),
        _ if !has_pair => (Reliance::No, Some(WhyNot::NoPair)),
        _ if findings.iter().any(by_ruling) => (Reliance::ByRuling, Some(WhyNot::SettledStop)),
        _ => (Reliance::Yes, None),
    }
}

impl Reliance {
    /// The written word.
    pub fn name(self) -> &'static str {
        match self {
            Self::Yes => "yes",
            Self::No => "no",
            Self::Ask => "ask",
            Self::NotYet => "not-yet",
            Self::TakenOff => "taken-off",
            Self::ByRuling => "by-ruling",
        }
    }
}

impl WhyNot {
    /// The written word.
    pub fn name(self) -> &'static str {
        match self {
            Self::OpenStop => "open-stop",
            Self::OpenAsk => "open-ask",
            Self::NobodySpeaks => "nobody-speaks",
            Self::NotSigned => "not-signed",
            Self::TakenOff => "taken-off",
            Self::NoPair => "no-pair",
            Self::SettledStop => "settled-stop",
        }
    }
}
