//! Short names for long ones: the beginning of a job's, finding's or device's name is enough when it is the only one.

use gladhand_facts::{DeviceKey, Moment};
use gladhand_reconcile::{Class, Facts, Subject};

use crate::failure::Failure;
use gladhand_node::{IndexedFacts, Node};

/// The job that `given` names, whole or by its beginning. An unknown name stands for itself: a fact may name a job that only
/// another device knows yet.
///
/// # Errors
/// When several jobs begin like that.
pub fn job(node: &Node, given: &str) -> Result<String, Failure> {
    let (indexed, given) = (IndexedFacts::new(node), given.trim());
    if !indexed.about(&Subject::Job(given.to_owned())).is_empty() {
        return Ok(given.to_owned());
    }
    let jobs = indexed.beginning(Class::Job, given);
    indexed.failure()?;
    let names: Vec<String> = jobs.iter().map(|s| s.text().into_owned()).collect();
    pick("job", given, &names).map(|found| found.unwrap_or_else(|| given.to_owned()))
}

/// The one of `names` that is `given`, or begins with it.
///
/// # Errors
/// When several begin with it.
pub fn pick(what: &str, given: &str, names: &[String]) -> Result<Option<String>, Failure> {
    if names.iter().any(|n| n == given) {
        return Ok(Some(given.to_owned()));
    }
    let found: Vec<&String> = names.iter().filter(|n| begins(n, given)).collect();
    match found.as_slice() {
        [] => Ok(None),
        [one] => Ok(Some((*one).clone())),
        [first, second, ..] => Err(Failure::bad_input(format!(
            "'{given}' could be {what} {first}, {second}{}",
            more(found.len())
        ))
        .hint("Give more of the name.")),
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
pub fn device(node: &Node, given: &str) -> Result<DeviceKey, Failure> {
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
        [] => Err(Failure::bad_input(format!("no device '{given}' is known here"))
            .hint("`gladhand status` lists the devices.")),
        _ => Err(Failure::bad_input(format!("several devices are called '{given}'"))
            .hint("Give the beginning of the key instead.")),
    }
}

/// A time from the command line.
///
/// # Errors
/// When it is not an RFC 3339 time.
pub fn moment(flag: &str, given: &str) -> Result<Moment, Failure> {
    Moment::parse(given).map_err(|e| Failure::bad_input(format!("{flag}: {e}")))
}

/// As [`moment`], in microseconds since 1970.
///
/// # Errors
/// As [`moment`].
pub fn time(flag: &str, given: &str) -> Result<i64, Failure> {
    moment(flag, given).map(|at| at.unix_us())
}
