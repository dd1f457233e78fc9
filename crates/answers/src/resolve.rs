//! Short names for long ones: the beginning of a job's, finding's or device's name is enough when it is the only one.

use gladhand_facts::DeviceKey;
use gladhand_reconcile::{Class, Facts, Subject};

use gladhand_logbook::{Body, Entry};
use gladhand_node::{IndexedFacts, Node, NodeError};

use crate::error::{AnswerError, ResolveError};

/// The job that `given` names, whole or by its beginning. An unknown name stands for itself: a fact may name a job that only
/// another device knows yet.
///
/// # Errors
/// When several jobs begin like that.
pub fn job(node: &Node, given: &str) -> Result<String, AnswerError> {
    let (indexed, given) = (IndexedFacts::new(node), given.trim());
    if !indexed.about(&Subject::Job(given.to_owned())).is_empty() {
        return Ok(given.to_owned());
    }
    let jobs = indexed.beginning(Class::Job, given);
    indexed.failure()?;
    let names: Vec<String> = jobs.iter().map(|s| s.text().into_owned()).collect();
    Ok(pick("job", given, &names)?.unwrap_or_else(|| given.to_owned()))
}

/// As [`job`], for a job that must be known here.
///
/// # Errors
/// When no job, or several, begin like that.
pub fn known_job(node: &Node, given: &str) -> Result<String, AnswerError> {
    let handle = handle(node, given)?;
    if handle.known {
        Ok(handle.job)
    } else {
        Err(ResolveError::NoJob(handle.job).into())
    }
}

/// The one of `names` that is `given`, or begins with it.
///
/// # Errors
/// When several begin with it.
pub fn pick(what: &'static str, given: &str, names: &[String]) -> Result<Option<String>, ResolveError> {
    if names.iter().any(|n| n == given) {
        return Ok(Some(given.to_owned()));
    }
    let found: Vec<&String> = names.iter().filter(|n| begins(n, given)).collect();
    match found.as_slice() {
        [] => Ok(None),
        [one] => Ok(Some((*one).clone())),
        [first, second, ..] => Err(ResolveError::Ambiguous {
            what,
            given: given.to_owned(),
            first: (*first).clone(),
            second: (*second).clone(),
            more: more(found.len()),
        }),
    }
}

/// Whether `given` is the beginning of `name`, and not another number: J1 is not meant by somebody who knows J10.
fn begins(name: &str, given: &str) -> bool {
    let Some(rest) = name.strip_prefix(given) else {
        return false;
    };
    let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    // Made-up names and findings' ids are letters and digits at random.
    let is_random = name.len() >= 9 && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit());
    !given.is_empty() && (is_random || !(digit(given.chars().last()) && digit(rest.chars().next())))
}

fn more(count: usize) -> String {
    if count > 2 {
        format!(" or {} more", count - 2)
    } else {
        String::new()
    }
}

/// The device that `given` names: by its name, or by its key or the beginning of it.
///
/// # Errors
/// When no device, or several, are called that.
pub fn device(node: &Node, given: &str) -> Result<DeviceKey, ResolveError> {
    let roster = node.book().roster();
    let mut devices = roster.devices();
    devices.push(node.device());
    devices.sort_unstable();
    devices.dedup();
    let by_name: Vec<DeviceKey> = devices.iter().copied().filter(|d| roster.name(d) == given).collect();
    let lower = given.to_ascii_lowercase();
    let by_key = devices
        .iter()
        .copied()
        .filter(|d| given.len() >= 4 && d.to_string().starts_with(&lower));
    let found = if by_name.is_empty() { by_key.collect() } else { by_name };
    match found.as_slice() {
        [one] => Ok(*one),
        [] => Err(ResolveError::NoDevice(given.to_owned())),
        _ => Err(ResolveError::SeveralDevices(given.to_owned())),
    }
}

/// What stands for the job that this device touched last.
pub const LAST: &str = ".";

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

/// The job that `given` names.
///
/// # Errors
/// When several jobs begin like that, when nothing was touched yet, or when the store cannot be read.
pub fn handle(node: &Node, given: &str) -> Result<Handle, AnswerError> {
    let given = given.trim();
    let job = if given == LAST {
        last_touched(node)?.ok_or(ResolveError::NothingTouched)?
    } else {
        job(node, given)?
    };
    let indexed = IndexedFacts::new(node);
    let known = !indexed.about(&Subject::Job(job.clone())).is_empty();
    indexed.failure()?;
    let whole = job == given;
    Ok(Handle { job, known, whole })
}

/// The job of the newest entry of this device that is about one.
fn last_touched(node: &Node) -> Result<Option<String>, AnswerError> {
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
