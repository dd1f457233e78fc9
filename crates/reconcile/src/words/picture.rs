//! The texts of a picture: its key, and the description that says the same as the drawing.
//!
//! They take plain values, so that the words know nothing of how a picture is laid out.

use crate::finding::{Severity, Standing};

/// A plain fact, in the key.
pub(crate) const FACT: &str = "a fact";
/// A sign-off or a stand-down, in the key.
pub(crate) const END_OF_JOB: &str = "the end of a job";
/// An entry without a fact of the history, in the key.
pub(crate) const SIGHTING: &str = "an entry that had newly seen something";
/// A thin line between lanes, in the key.
pub(crate) const SEEN: &str = "had been seen by then, with all before";
/// A dotted line, in the key.
pub(crate) const CLASH: &str = "facts of one finding: ringed, tied together, its letter and id beside each";
/// Marks in one row, in the key.
pub(crate) const SIDE_BY_SIDE: &str =
    "side by side: neither had seen the other; whatever had seen another stands below it";

/// `f-xa7kghkzv7r9 camera-on-two-trackers (stop, unaware): Camera C1 is linked to …`.
pub(crate) fn finding(id: &str, rule: &str, severity: Severity, standing: Standing, says: &str) -> String {
    let severity = severity.word();
    match standing {
        Standing::None => format!("{id} {rule} ({severity}): {says}"),
        standing => format!("{id} {rule} ({severity}, {}): {says}", standing.word()),
    }
}

/// A finding beside a fact that makes it: `[A] stop f-xa7kghkzv7r9 camera-on-two-trackers`.
pub(crate) fn tag(letter: &str, severity: Severity, id: &str, rule: &str) -> String {
    format!("[{letter}] {} {id} {rule}", severity.word())
}

/// In which zone the times are and by which clock, below the title.
pub(crate) fn zone(zone: &str) -> String {
    format!("Times are in {zone}, as the clock of each device showed them.")
}

/// What stands in small letters below a mark: when, and what else is known of it.
pub(crate) fn small(clock: &str, what: &str) -> String {
    match what {
        "" => clock.to_owned(),
        what => format!("{clock}, {what}"),
    }
}

/// What a mark says, in the description.
pub(crate) fn what(label: &str, small: &str, is_struck: bool) -> String {
    let struck = if is_struck { ", struck through" } else { "" };
    format!("{label}{struck}, {small}")
}

/// The beginning of the description: the title, the zone of the times, and each lane's name with what is known of its clock.
pub(crate) fn lanes<'l>(title: &str, zone_name: &str, lanes: impl IntoIterator<Item = (&'l str, &'l str)>) -> String {
    let lane = |(name, clock): (&str, &str)| match clock {
        "" => name.to_owned(),
        clock => format!("{name} ({clock})"),
    };
    let lanes: Vec<String> = lanes.into_iter().map(lane).collect();
    format!("{title}. {} Lanes: {}.", zone(zone_name), lanes.join("; "))
}

/// A mark of the description, without its full stop. `number` is that of a fact in the history.
pub(crate) fn mark(number: Option<usize>, lane: &str, at: &str, what: &str) -> String {
    let number = number.map_or_else(String::new, |n| format!("{n}, "));
    format!(" {number}{lane} at {at}: {what}")
}

/// That a mark's writer had seen what `lane` wrote, up to the fact with that number.
pub(crate) fn had_seen(lane: &str, upto: Option<usize>) -> String {
    let upto = upto.map_or_else(String::new, |n| format!(" up to {n}"));
    format!("; seen what {lane} wrote{upto}")
}

/// A finding of the description, with its letter and the numbers of its facts.
pub(crate) fn clash(letter: &str, facts: impl IntoIterator<Item = usize>, finding: &str) -> String {
    let facts: Vec<String> = facts.into_iter().map(|n| n.to_string()).collect();
    format!(" Finding {letter}, of {}: {finding}", facts.join(", "))
}
