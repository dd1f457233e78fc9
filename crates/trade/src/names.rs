//! The names of check facts that the program itself knows. All others come from the work standard.

/// Whether freight stands at the opening: `value` yes, no or cannot-be-seen.
pub const FREIGHT_AT_OPENING: &str = "freight-at-opening";
/// A pilot hole was drilled.
pub const PILOT_HOLE: &str = "pilot-hole";
/// How deep the pilot hole is.
pub const PILOT_DEPTH: &str = "pilot-depth";
/// The second probe entered the second hole, in the liner.
pub const SECOND_HOLE_ENTERED: &str = "second-hole-entered";
/// Somebody looked inside: the trailer is empty.
pub const SEEN_EMPTY: &str = "seen-empty";
/// The pilot hole was sealed.
pub const PILOT_SEALED: &str = "pilot-sealed";
/// How thick the wall is. The field of a job of that name and the check are one and the same.
pub const THICKNESS: &str = "thickness";
/// Somebody else approves a place, a reading or a withdrawal: `of` says which.
pub const APPROVAL: &str = "approval";
