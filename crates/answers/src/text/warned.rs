//! A warning in a sentence or two.

use crate::standard::Office;
use crate::warned::Warned;

/// A warning in a sentence or two.
pub fn warning(what: &Warned) -> String {
    match what {
        Warned::UnknownJob { job } => format!(
            "No job {job} was known here. The fact is recorded under that name; if it was a slip, record it again under the right one."
        ),
        Warned::NoSuchCheck { check, standard, near } => {
            let meant = near
                .as_ref()
                .map_or(".".to_owned(), |name| format!("; did you mean {name}?"));
            format!("The work standard {standard} has no check {check}{meant}")
        }
        Warned::NoSuchReason {
            reason,
            standard,
            reasons,
        } => format!(
            "The work standard {standard} lists no reason {reason}; it is recorded all the same. Listed are: {}.",
            reasons.join(", ")
        ),
        Warned::CheckNotGood {
            why,
            ask_office,
            office,
            made_good_by,
            ..
        } => format!("{why}.{}", remedy(*ask_office, office.as_ref(), made_good_by)),
        Warned::NoLink { job } => format!(
            "Job {job} has no linked camera that this device knows of: a picture proves nothing before the link and live settings."
        ),
        Warned::NotLive { job } => format!(
            "The tracker of job {job} has no live settings after its link that this device knows of: a picture proves nothing before they are live."
        ),
        Warned::TrackerNotLinked { tracker } => format!(
            "Tracker {tracker} has no linked camera that this device knows of; settings count only after the link."
        ),
        Warned::LinkWithoutJob { camera, tracker } => format!(
            "No job known here names camera {camera} or tracker {tracker}: record the link again with --job JOB."
        ),
        Warned::NotCleared { answer } => format!("The wall was not cleared for a cut. {answer}."),
    }
}

/// What the work standard takes instead.
fn remedy(ask_office: bool, office: Option<&Office>, made_good_by: &[String]) -> String {
    let who = office.map_or(String::new(), |office| format!(" ({})", office.says));
    let ask = if ask_office {
        format!(" Ask the office{who}: an approval before the cut, by somebody else, makes it good.")
    } else {
        String::new()
    };
    match made_good_by {
        [] => ask,
        names => format!("{ask} Made good by: {}.", names.join(", ")),
    }
}
