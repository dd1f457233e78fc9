//! How a person names a job with cold hands: the whole name, its beginning, or `.` for the job touched last.
//!
//! A name that nobody here knows is taken as it stands: another device may know the job already. The person is told, as it
//! may as well be a slip.

use gladhand_logbook::{Body, Entry};
use gladhand_reconcile::{Facts, Subject};

use crate::commands::resolve;
use crate::failure::Failure;
use gladhand_node::{IndexedFacts, Node, NodeError};

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
pub fn job(node: &Node, given: &str) -> Result<Handle, Failure> {
    let given = given.trim();
    let job = if given == LAST {
        last_touched(node)?.ok_or_else(|| {
            Failure::bad_input("this device has recorded nothing on any job yet")
                .hint("Name the job; `gladhand job next` lists the open ones.")
        })?
    } else {
        resolve::job(node, given)?
    };
    let indexed = IndexedFacts::new(node);
    let known = !indexed.about(&Subject::Job(job.clone())).is_empty();
    indexed.failure()?;
    let whole = job == given;
    Ok(Handle { job, known, whole })
}

/// As [`job`], for a job that must be known here.
///
/// # Errors
/// As [`job`], and when the job is not known.
pub fn known_job(node: &Node, given: &str) -> Result<String, Failure> {
    let handle = job(node, given)?;
    if handle.known {
        return Ok(handle.job);
    }
    Err(Failure::bad_input(format!("no job '{}' is known here", handle.job))
        .hint("`gladhand job next` lists the open jobs; perhaps a bundle is missing."))
}

/// The job of the newest entry of this device that is about one.
fn last_touched(node: &Node) -> Result<Option<String>, Failure> {
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

/// A word as a shell takes it.
pub fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_' | '.' | '/' | ':' | '+');
    if !word.is_empty() && word.chars().all(plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', r"'\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shell_takes_what_is_quoted() {
        assert_eq!(quoted("J-0302.M01"), "J-0302.M01");
        assert_eq!(quoted("the yard's"), r"'the yard'\''s'");
        assert_eq!(quoted(""), "''");
    }
}
