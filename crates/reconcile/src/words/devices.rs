//! Sentences about devices and their logs.

use std::collections::BTreeSet;

use gladhand_facts::{DeviceKey, Moment};

use crate::oddity::Shows;
use crate::reason::device::{ClaimedPlace, ClockProof, Continuation, ForkedLog, UnknownKinds, WrongClock};
use crate::reason::fact_ref::WrittenTime;
use crate::subject::Subject;
use crate::words::described::{Described, NextStep, Step};
use crate::words::phrases::{listed, short_span, when};
use crate::words::teller::Teller;

/// How many digits of an entry's hash are printed.
const HASH_DIGITS: usize = 8;

/// The device that a finding is about.
fn device(t: &Teller<'_>) -> Option<DeviceKey> {
    match t.finding.subject {
        Subject::Device(device) => Some(device),
        _ => None,
    }
}

fn device_name(t: &Teller<'_>) -> String {
    device(t).map(|device| t.name(&device)).unwrap_or_default()
}

fn step_on_device(t: &Teller<'_>, step: Step) -> NextStep {
    NextStep {
        device: device(t),
        ..NextStep::new(step)
    }
}

pub(super) fn clock_off(t: &Teller<'_>, reason: &WrongClock) -> Described {
    let name = device_name(t);
    let wrong = match &reason.proof {
        ClockProof::Reading { ahead_us, .. } => against_depot(t, &name, *ahead_us),
        ClockProof::Entry(shows) => shown_by_entry(t, &name, reason.place.seq, shows),
    };
    let says = if t.is_cleared() {
        format!("{wrong}; it has been set since.")
    } else {
        format!("{wrong}.")
    };
    Described {
        says,
        next: format!(
            "Set the clock of {name}. What it recorded is judged by corrected times; nothing needs to be recorded again."
        ),
        step: step_on_device(t, Step::SetClock),
    }
}

fn against_depot(t: &Teller<'_>, name: &str, ahead_us: i64) -> String {
    let far = short_span(ahead_us.unsigned_abs());
    let verb = if t.is_cleared() { "was" } else { "is" };
    let way = if ahead_us > 0 { "ahead of" } else { "behind" };
    format!("The clock of {name} {verb} at least {far} {way} the depot's")
}

fn shown_by_entry(t: &Teller<'_>, name: &str, seq: u64, shows: &Shows) -> String {
    let far = short_span(shows.off_us().unsigned_abs());
    let time = |us: i64| when(&WrittenTime::from(&Moment::from_unix_us(us, 0)));
    match *shows {
        Shows::SetBack {
            before_seq, shown_us, ..
        } => format!(
            "The clock of {name} was set back by {far} or more before entry {seq} ({}), as entry {before_seq} shows; \
             times between two contacts with the depot are uncertain there",
            time(shown_us)
        ),
        Shows::TooEarly { at_us } => format!(
            "Entry {seq} of {name} has a time that no clock can have shown then ({})",
            time(at_us)
        ),
        Shows::Future { at_us, .. } => format!(
            "Entry {seq} of {name} has a time ({}) that is {far} later than its own recording",
            time(at_us)
        ),
        Shows::Apart {
            shown_us, reference_us, ..
        } => {
            let verb = if t.is_cleared() { "was" } else { "is" };
            let way = if shown_us > reference_us { "ahead of" } else { "behind" };
            let other = time(reference_us);
            format!("The clock of {name} {verb} at least {far} {way} the clock that was read off beside it ({other})")
        }
        Shows::SeenBefore { shown_us, .. } => format!(
            "{}: the depot had seen its entry {seq} before the time that it shows ({})",
            against_depot(t, name, shows.off_us()),
            time(shown_us)
        ),
        Shows::SawLater { shown_us, .. } => format!(
            "{}: its entry {seq} ({}) had seen what the depot wrote later",
            against_depot(t, name, -shows.off_us()),
            time(shown_us)
        ),
    }
}

pub(super) fn log_forked(t: &Teller<'_>, reason: &ForkedLog) -> Described {
    let name = device_name(t);
    let claims = (!reason.claims.is_empty()).then(|| {
        let places = listed(reason.claims.iter().map(claimed));
        format!("Device {name} wrote different entries for the same place in its log: {places}.")
    });
    let copies = (!reason.continuations.is_empty()).then(|| {
        let logs = listed(reason.continuations.iter().map(continued));
        format!(
            "Device {name} was copied or restored from a backup, and went on from there more than once: {logs}. \
             All entries of all of them count."
        )
    });
    let shown = |key: &String| t.names.spelling(&Subject::Job(key.clone()));
    let jobs: Vec<String> = t.finding.jobs.iter().map(shown).collect();
    let touched = (!jobs.is_empty()).then(|| {
        let noun = if jobs.len() == 1 { "job" } else { "jobs" };
        format!("Since then they recorded on {noun} {}.", listed(&jobs))
    });
    let says: Vec<String> = claims.into_iter().chain(copies).chain(touched).collect();
    Described {
        says: says.join(" "),
        next: format!(
            "Find out whether the disk of {name} was copied or restored. If two copies are at work, keep one and take the other out of use; \
             if it was restored, record again what was recorded after the backup and reached no other device. Then settle this with a ruling."
        ),
        step: NextStep {
            finding: Some(t.finding.id.clone()),
            ..step_on_device(t, Step::FindCopies)
        },
    }
}

/// `place 17 (1a2b3c4d and 5e6f7081)`.
fn claimed(claim: &ClaimedPlace) -> String {
    let hashes = claim.hashes.iter();
    let short = hashes.map(|hash| hash.chars().take(HASH_DIGITS).collect::<String>());
    format!("place {} ({})", claim.seq, listed(short))
}

fn continued(continuation: &Continuation) -> String {
    let Continuation { log, seq, logs } = continuation;
    let (incarnation, count) = (log.incarnation, logs.len());
    format!("from place {seq} of log {incarnation:x} on it is written in {count} logs")
}

pub(super) fn not_understood(t: &Teller<'_>, reason: &UnknownKinds) -> Described {
    let subject = match &t.finding.subject {
        Subject::Job(_) => format!("Job {}", t.subject()),
        Subject::Device(device) => format!("Device {}", t.name(device)),
        other => other.to_string(),
    };
    // Sorted with the quotes around them.
    let kinds: BTreeSet<String> = reason.kinds.iter().map(|kind| format!("'{kind}'")).collect();
    let job = match &t.finding.subject {
        Subject::Job(_) => Some(t.subject()),
        _ => None,
    };
    Described {
        says: format!(
            "{subject} has facts of a kind that this version does not know: {}, recorded by {}.",
            listed(kinds),
            t.authors(&reason.facts)
        ),
        next: "They are kept and passed on unchanged. Update this node, or correct the word if it was a slip."
            .to_owned(),
        step: NextStep {
            job,
            ..step_on_device(t, Step::Update)
        },
    }
}
