//! From a reason to its sentences: one function for each rule.

use crate::finding::{Finding, Status};
use crate::names::Names;
use crate::reason::Reason;
use crate::words::described::{Described, NextStep, Step};
use crate::words::phrases::with_offsets;
use crate::words::teller::Teller;
use crate::words::{devices, jobs, pairs, parts, proofs, sign_offs, trailers, walls};

/// What a finding says, and what to do about it.
pub fn describe(finding: &Finding, names: &dyn Names) -> Described {
    let teller = Teller { finding, names };
    let mut described = by_reason(&teller);
    if let Some(put_right) = &finding.put_right {
        let end = teller.put_right(put_right);
        described.says = format!("{}; {end}.", described.says.trim_end_matches('.'));
    }
    described.says = with_offsets(&described.says);
    if finding.status == Status::Cleared {
        described.next = "Nothing more to do.".to_owned();
        described.step = NextStep::new(Step::Nothing);
    }
    described
}

fn by_reason(t: &Teller<'_>) -> Described {
    match &t.finding.reason {
        Reason::CameraOnTwoTrackers(reason) => parts::camera_on_two_trackers(t, reason),
        Reason::TrackerWithTwoCameras(reason) => parts::tracker_with_two_cameras(t, reason),
        Reason::TrackerOnTwoTrailers(reason) => trailers::tracker_on_two_trailers(t, reason),
        Reason::PlannedNotLinked(reason) => pairs::planned_not_linked(t, reason),
        Reason::TrailerWithTwoPairs(reason) => trailers::trailer_with_two_pairs(t, reason),
        Reason::ProofOfAnotherPair(reason) => pairs::proof_of_another_pair(t, reason),
        Reason::ProofOutOfOrder(reason) => proofs::out_of_order(t, reason),
        Reason::ProofWithoutPicture(reason) => proofs::without_picture(t, reason),
        Reason::PictureUsedTwice(reason) => proofs::picture_used_twice(t, reason),
        Reason::FailedAfterSignOff(reason) => pairs::failed_after_sign_off(t, reason),
        Reason::NotTheListedTracker(reason) => trailers::not_the_listed_tracker(t, reason),
        Reason::UnknownPart(reason) => parts::unknown_part(t, reason),
        Reason::ReadingWithdrawn(reason) => walls::reading_withdrawn(t, reason),
        Reason::SignedWithoutLink(reason) => sign_offs::without_link(t, reason),
        Reason::SignedBeforeLive(reason) => sign_offs::before_live(t, reason),
        Reason::SignedWithoutProof(reason) => sign_offs::without_proof(t, reason),
        Reason::ProofOlderThanRequest(reason) => proofs::older_than_request(t, reason),
        Reason::ProofAnswersDisagree(reason) => proofs::answers_disagree(t, reason),
        Reason::CheckMissing(reason) => sign_offs::check_missing(t, reason),
        Reason::CheckFailed(reason) => sign_offs::check_failed(t, reason),
        Reason::CutWithoutClearance(reason) => walls::cut_without_clearance(t, reason),
        Reason::PilotHoleLeftOpen(reason) => walls::pilot_hole_left_open(t, reason),
        Reason::TrailerOpenedTwice(reason) => jobs::trailer_opened_twice(t, reason),
        Reason::FieldsDisagree(reason) => jobs::fields_disagree(t, reason),
        Reason::WrongFleet(reason) => parts::wrong_fleet(t, reason),
        Reason::CodeSuspect(reason) => parts::code_suspect(t, reason),
        Reason::ChangedAfterSignOff(reason) => sign_offs::changed_after(t, reason),
        Reason::ClockOff(reason) => devices::clock_off(t, reason),
        Reason::LogForked(reason) => devices::log_forked(t, reason),
        Reason::NotUnderstood(reason) => devices::not_understood(t, reason),
    }
}
