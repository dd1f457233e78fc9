//! The rules: one file each, reading like its row in the contract.
//!
//! A rule looks at one subject and gives a [`crate::draft::Draft`] with its reason as data, or nothing. Sentences are made in
//! [`crate::words`]. [`crate::judge_subject`] calls the rules, names what they find and weighs rulings.

mod camera_on_two_trackers;
mod changed_after_sign_off;
mod check_failed;
mod check_missing;
mod clock_off;
mod code_suspect;
mod cut_without_clearance;
mod double_link;
mod failed_after_sign_off;
mod fields_disagree;
mod log_forked;
mod not_the_listed_tracker;
mod not_understood;
mod picture_used_twice;
mod pilot_hole_left_open;
mod planned_not_linked;
mod proof_answers_disagree;
mod proof_of_another_pair;
mod proof_older_than_request;
mod proof_out_of_order;
mod proof_without_picture;
mod reading_withdrawn;
pub mod rule;
mod signed;
mod signed_before_live;
mod signed_without_link;
mod signed_without_proof;
mod tracker_on_two_trailers;
mod tracker_with_two_cameras;
mod trailer_opened_twice;
mod trailer_with_two_pairs;
mod unknown_part;
mod wrong_fleet;

use crate::subject::Class;
use rule::Rule;

/// Goes up with every change of what the rules find or of how a reason is stored: findings stored by another edition are judged
/// again. Words are not stored, so a change of words needs no new edition.
pub const EDITION: u32 = 10;

/// All rules, in the order of the contract.
pub const ALL: &[&dyn Rule] = &[
    &camera_on_two_trackers::CameraOnTwoTrackers,
    &tracker_with_two_cameras::TrackerWithTwoCameras,
    &tracker_on_two_trailers::TrackerOnTwoTrailers,
    &planned_not_linked::PlannedNotLinked,
    &signed_without_link::SignedWithoutLink,
    &trailer_with_two_pairs::TrailerWithTwoPairs,
    &signed_before_live::SignedBeforeLive,
    &signed_without_proof::SignedWithoutProof,
    &proof_of_another_pair::ProofOfAnotherPair,
    &proof_older_than_request::ProofOlderThanRequest,
    &proof_out_of_order::ProofOutOfOrder,
    &proof_answers_disagree::ProofAnswersDisagree,
    &proof_without_picture::ProofWithoutPicture,
    &picture_used_twice::PictureUsedTwice,
    &check_missing::CheckMissing,
    &check_failed::CheckFailed,
    &failed_after_sign_off::FailedAfterSignOff,
    &cut_without_clearance::CutWithoutClearance,
    &pilot_hole_left_open::PilotHoleLeftOpen,
    &trailer_opened_twice::TrailerOpenedTwice,
    &fields_disagree::FieldsDisagree,
    &wrong_fleet::WrongFleet,
    &not_the_listed_tracker::NotTheListedTracker,
    &unknown_part::UnknownPartRule,
    &code_suspect::CodeSuspect,
    &changed_after_sign_off::ChangedAfterSignOff,
    &reading_withdrawn::ReadingWithdrawn,
    &clock_off::ClockOff,
    &log_forked::LogForked,
    &not_understood::NotUnderstood,
];

/// The rules that judge subjects of `class`.
pub fn on(class: Class) -> impl Iterator<Item = &'static dyn Rule> {
    ALL.iter().copied().filter(move |rule| rule.classes().contains(&class))
}

/// The place of a rule in the order of the contract; unknown names come last.
pub fn rank(name: &str) -> usize {
    ALL.iter().position(|rule| rule.name() == name).unwrap_or(ALL.len())
}
