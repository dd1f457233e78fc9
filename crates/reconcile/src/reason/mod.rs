//! Why a rule finds something, as data: which facts, codes, values, times and devices.
//!
//! Nothing here is in words. [`crate::words`] makes the sentences and looks up the names of devices, so a stored reason stays
//! the same when a device is renamed. Two exceptions are text that comes from outside this crate and is carried as it is:
//! what the trade says of a check, a code or a wall (`why`), and what people typed.
//!
//! What the rest of a finding holds is not repeated: its subject, its severity, and whether it is cleared.

pub mod device;
pub mod fact_ref;
pub mod job;
pub mod knowledge;
pub mod part;
pub mod proof;
pub mod sign_off;
pub mod wall;

use serde::{Deserialize, Serialize};

use device::{ForkedLog, UnknownKinds, WrongClock};
use job::{DisputedFields, SharedTrailer};
use part::{DoubleLink, ForeignParts, SharedTracker, SuspectCode, TwoPairs, UnknownPart, UnlistedTracker};
use proof::{BareProof, ContradictoryProof, HastyProof, OldProof, SharedPicture};
use sign_off::{
    BadSignOff, ChangedPair, FailedCheck, FailedSince, ForeignProof, MissingChecks, MissingLink, MissingProof, NotLive,
    OtherPair,
};
use wall::{OpenPilotHole, UnclearedCut, WithdrawnReadings};

/// Why a rule finds something: one variant for each rule.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum Reason {
    CameraOnTwoTrackers(DoubleLink),
    TrackerWithTwoCameras(DoubleLink),
    TrackerOnTwoTrailers(SharedTracker),
    PlannedNotLinked(BadSignOff<OtherPair>),
    SignedWithoutLink(BadSignOff<MissingLink>),
    TrailerWithTwoPairs(TwoPairs),
    SignedBeforeLive(BadSignOff<NotLive>),
    SignedWithoutProof(BadSignOff<MissingProof>),
    ProofOfAnotherPair(BadSignOff<ForeignProof>),
    ProofOlderThanRequest(OldProof),
    ProofOutOfOrder(HastyProof),
    ProofAnswersDisagree(ContradictoryProof),
    ProofWithoutPicture(BareProof),
    PictureUsedTwice(SharedPicture),
    CheckMissing(BadSignOff<MissingChecks>),
    CheckFailed(BadSignOff<Vec<FailedCheck>>),
    FailedAfterSignOff(BadSignOff<FailedSince>),
    CutWithoutClearance(UnclearedCut),
    PilotHoleLeftOpen(OpenPilotHole),
    TrailerOpenedTwice(SharedTrailer),
    FieldsDisagree(DisputedFields),
    WrongFleet(ForeignParts),
    NotTheListedTracker(UnlistedTracker),
    UnknownPart(UnknownPart),
    CodeSuspect(SuspectCode),
    ChangedAfterSignOff(ChangedPair),
    ReadingWithdrawn(WithdrawnReadings),
    ClockOff(WrongClock),
    LogForked(ForkedLog),
    NotUnderstood(UnknownKinds),
}

impl Reason {
    /// The name of the rule that gives this reason.
    pub fn rule(&self) -> &'static str {
        match self {
            Self::CameraOnTwoTrackers(_) => "camera-on-two-trackers",
            Self::TrackerWithTwoCameras(_) => "tracker-with-two-cameras",
            Self::TrackerOnTwoTrailers(_) => "tracker-on-two-trailers",
            Self::PlannedNotLinked(_) => "planned-not-linked",
            Self::TrailerWithTwoPairs(_) => "trailer-with-two-pairs",
            Self::ProofOfAnotherPair(_) => "proof-of-another-pair",
            Self::ProofOutOfOrder(_) => "proof-out-of-order",
            Self::ProofWithoutPicture(_) => "proof-without-picture",
            Self::PictureUsedTwice(_) => "picture-used-twice",
            Self::FailedAfterSignOff(_) => "failed-after-sign-off",
            Self::NotTheListedTracker(_) => "not-the-listed-tracker",
            Self::UnknownPart(_) => "unknown-part",
            Self::ReadingWithdrawn(_) => "reading-withdrawn",
            Self::SignedWithoutLink(_) => "signed-without-link",
            Self::SignedBeforeLive(_) => "signed-before-live",
            Self::SignedWithoutProof(_) => "signed-without-proof",
            Self::ProofOlderThanRequest(_) => "proof-older-than-request",
            Self::ProofAnswersDisagree(_) => "proof-answers-disagree",
            Self::CheckMissing(_) => "check-missing",
            Self::CheckFailed(_) => "check-failed",
            Self::CutWithoutClearance(_) => "cut-without-clearance",
            Self::PilotHoleLeftOpen(_) => "pilot-hole-left-open",
            Self::TrailerOpenedTwice(_) => "trailer-opened-twice",
            Self::FieldsDisagree(_) => "fields-disagree",
            Self::WrongFleet(_) => "wrong-fleet",
            Self::CodeSuspect(_) => "code-suspect",
            Self::ChangedAfterSignOff(_) => "changed-after-sign-off",
            Self::ClockOff(_) => "clock-off",
            Self::LogForked(_) => "log-forked",
            Self::NotUnderstood(_) => "not-understood",
        }
    }
}
