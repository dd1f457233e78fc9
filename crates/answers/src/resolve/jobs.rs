//! Which job is meant: by its name or an unambiguous beginning of it, by `.` for the one that was touched last, or by the number
//! of its trailer.

use std::collections::BTreeSet;

use gladhand_facts::{Kind, code_key, name_key};
use gladhand_logbook::{Body, Entry};
use gladhand_node::{IndexedFacts, Node, NodeError};
use gladhand_reconcile::names::spelling;
use gladhand_reconcile::report::{JobState, job_state};
use gladhand_reconcile::{Class, Facts, JobView, Subject};
use gladhand_trade::near_misses;

use super::begins;
use crate::error::{AnswerError, ResolveError};

/// What stands for the job that this device touched last.
pub const LAST: &str = ".";
/// How many names are told that are near to one that nothing bears.
const NEAR: usize = 3;

/// A job as it was named.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Handle {
    /// Its full name.
    pub job: String,
    /// Whether this node knows it.
    pub known: bool,
    /// Whether it was named whole.
    pub whole: bool,
}

impl Handle {
    fn known(job: String, given: &str) -> Self {
        let whole = name_key(&job) == name_key(given);
        Self {
            job,
            known: true,
            whole,
        }
    }
}

/// The job that `given` names, which must be known here.
///
/// # Errors
/// When no job, or several, are meant, or when the store cannot be read.
pub fn handle(node: &Node, given: &str) -> Result<Handle, AnswerError> {
    let handle = new_or_known(node, given)?;
    if handle.known {
        return Ok(handle);
    }
    let indexed = IndexedFacts::new(node);
    let near = near(&indexed, &handle.job);
    indexed.failure()?;
    Err(match near.is_empty() {
        true => ResolveError::NoJob(handle.job),
        false => ResolveError::NoJobBut {
            given: handle.job,
            near,
        },
    }
    .into())
}

/// As [`handle`], its name alone.
///
/// # Errors
/// As [`handle`].
pub fn known_job(node: &Node, given: &str) -> Result<String, AnswerError> {
    handle(node, given).map(|handle| handle.job)
}

/// As [`handle`]; a name that no job bears is that of a new one. The number of a trailer on which no job is open is none.
///
/// # Errors
/// When several jobs are meant, when nothing was touched yet, or when the store cannot be read.
pub fn new_or_known(node: &Node, given: &str) -> Result<Handle, AnswerError> {
    let given = given.trim();
    if given == LAST {
        let job = last_job(node)?.ok_or(ResolveError::NothingTouched)?;
        return Ok(Handle::known(job, given));
    }
    let indexed = IndexedFacts::new(node);
    let found = find(&indexed, given).map(|job| job.map(|job| JobView::load(&indexed, &job).job));
    indexed.failure()?;
    let unknown = Handle {
        job: given.to_owned(),
        known: false,
        whole: true,
    };
    Ok(found?.map_or(unknown, |job| Handle::known(job, given)))
}

fn find(indexed: &IndexedFacts<'_>, given: &str) -> Result<Option<String>, AnswerError> {
    if !indexed.about(&Subject::job(given)).is_empty() {
        return Ok(Some(given.to_owned()));
    }
    let on_trailer = jobs_on(indexed, given);
    let open: Vec<&JobView> = on_trailer
        .iter()
        .filter(|job| job_state(job) == JobState::Open)
        .collect();
    match open.as_slice() {
        [] => {}
        [one] => return Ok(Some(one.job.clone())),
        several => return Err(ambiguous(given, several.iter().map(|job| with_state(job)).collect())),
    }
    let key = name_key(given);
    let keys = indexed.subjects(Class::Job).into_iter();
    let mut views: Vec<JobView> = keys
        .filter(|job| job.text().starts_with(&key))
        .map(|job| JobView::load(indexed, &job.text()))
        .collect();
    views.retain(|job| begins(&job.key, &key, &job.job));
    match views.as_slice() {
        [] if on_trailer.is_empty() => Ok(None),
        [] => Err(ResolveError::NoneOpen {
            trailer: given.to_owned(),
            jobs: on_trailer.iter().map(with_state).collect(),
        }
        .into()),
        [one] => Ok(Some(one.job.clone())),
        several => Err(ambiguous(given, several.iter().map(described).collect())),
    }
}

fn ambiguous(given: &str, found: Vec<String>) -> AnswerError {
    ResolveError::Ambiguous {
        what: "job",
        given: given.to_owned(),
        found,
    }
    .into()
}

/// The jobs whose trailer has that number now.
pub fn jobs_on(indexed: &IndexedFacts<'_>, given: &str) -> Vec<JobView> {
    let key = code_key(given);
    if key.is_empty() {
        return Vec::new();
    }
    let about = indexed.about(&Subject::trailer(given)).into_iter();
    let jobs: BTreeSet<String> = about
        .filter(|w| w.is(&Kind::Job))
        .filter_map(|w| w.fact.text("job").map(|job| name_key(&job)))
        .collect();
    let views = jobs.iter().map(|job| JobView::load(indexed, job));
    views
        .filter(|job| job.values("trailer").iter().any(|t| code_key(t) == key))
        .collect()
}

fn with_state(job: &JobView) -> String {
    let state = match job_state(job) {
        JobState::Open => "open",
        JobState::SignedOff => "signed off",
        JobState::StoodDown => "stood down",
    };
    format!("{} ({state})", job.job)
}

/// `J10 (trailer LF 5396)`.
fn described(job: &JobView) -> String {
    match job.values("trailer").as_slice() {
        [] => job.job.clone(),
        trailers => format!("{} (trailer {})", job.job, trailers.join(" | ")),
    }
}

/// Jobs and trailers whose name is one edit away, or holds what was given.
fn near(indexed: &IndexedFacts<'_>, given: &str) -> Vec<String> {
    let key = code_key(given);
    if key.is_empty() {
        return Vec::new();
    }
    let of = |class: Class| indexed.subjects(class).into_iter();
    let known: Vec<(String, Subject)> = of(Class::Job)
        .chain(of(Class::Trailer))
        .map(|subject| (code_key(&subject.text()), subject))
        .collect();
    let misses: BTreeSet<&str> = near_misses(&key, known.iter().map(|(key, _)| key.as_str()))
        .into_iter()
        .collect();
    let holds = |known: &str| key.chars().count() > 2 && known.contains(&key);
    let near = known
        .iter()
        .filter(|(known, _)| misses.contains(known.as_str()) || holds(known));
    let told = |(_, subject): &(String, Subject)| format!("{} {}", subject.class().name(), spelling(indexed, subject));
    near.map(told).take(NEAR).collect()
}

/// The job of the newest entry of this device that is about one.
///
/// # Errors
/// When the store cannot be read.
pub fn last_job(node: &Node) -> Result<Option<String>, AnswerError> {
    let device = node.device();
    let mut logs: Vec<_> = node
        .book()
        .vector()
        .iter()
        .filter(|(l, _)| l.device == device)
        .collect();
    logs.sort_by_key(|(log, _)| std::cmp::Reverse(log.incarnation));
    for (log, head) in logs {
        for seq in (1..=head).rev() {
            let bytes = node.journal().read_entry(&log, seq).map_err(NodeError::from)?;
            let body = bytes
                .and_then(|bytes| Entry::decode(&bytes).ok())
                .map(|entry| entry.body);
            if let Some(Body::Change { job, .. }) = body {
                return Ok(Some(job));
            }
        }
    }
    Ok(None)
}
