//! Short names for long ones: the beginning of a job's, finding's, fact's or device's name is enough when it is the only one.

use gladhand_facts::{DeviceKey, FactId, code_key};
use gladhand_node::Node;
use gladhand_trade::near_misses;

use crate::error::{AnswerError, ResolveError};

mod jobs;
pub mod scope;

pub use jobs::{Handle, LAST, handle, jobs_on, known_job, last_job, new_or_known};

/// The one of `names` that is `given`, or begins with it.
///
/// # Errors
/// When several begin with it.
pub fn pick(what: &'static str, given: &str, names: &[String]) -> Result<Option<String>, ResolveError> {
    if names.iter().any(|n| n == given) {
        return Ok(Some(given.to_owned()));
    }
    let found: Vec<&String> = names.iter().filter(|n| begins(n, given, n)).collect();
    match found.as_slice() {
        [] => Ok(None),
        [one] => Ok(Some((*one).clone())),
        several => Err(ResolveError::Ambiguous {
            what,
            given: given.to_owned(),
            found: several.iter().map(|name| (*name).clone()).collect(),
        }),
    }
}

/// Whether `given` is the beginning of `name`, and not another number: J1 is not meant by somebody who knows J10. `written` is
/// the name as people write it.
fn begins(name: &str, given: &str, written: &str) -> bool {
    let Some(rest) = name.strip_prefix(given) else {
        return false;
    };
    let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    // Made-up names without a unit number and findings' ids are letters and digits at random.
    let letters = written.strip_prefix("f-").unwrap_or(written);
    let is_random = letters.len() >= 9 && letters.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit());
    !given.is_empty() && (is_random || !(digit(given.chars().last()) && digit(rest.chars().next())))
}

/// How many devices are told whose names are near to one that none bears.
const NEAR_DEVICES: usize = 3;

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
        [] => Err(ResolveError::NoDevice {
            near: near_devices(devices.iter().map(|d| roster.name(d)).collect(), given),
            given: given.to_owned(),
        }),
        _ => Err(ResolveError::SeveralDevices(given.to_owned())),
    }
}

/// The names of devices that are one edit away, or hold what was given.
fn near_devices(mut names: Vec<String>, given: &str) -> Vec<String> {
    names.sort();
    names.dedup();
    let keys: Vec<String> = names.iter().map(|name| code_key(name)).collect();
    let key = code_key(given);
    let misses = near_misses(&key, keys.iter().map(String::as_str));
    let holds = |known: &str| key.chars().count() > 2 && known.contains(&key);
    let is_near = |known: &str| misses.contains(&known) || holds(known);
    let near = names.into_iter().zip(&keys).filter(|(_, known)| is_near(known));
    near.map(|(name, _)| name).take(NEAR_DEVICES).collect()
}

/// How many facts are listed where several could be meant.
const FACTS_LISTED: usize = 9;

/// The fact that these hexadecimal digits name: all of its id, or the beginning.
///
/// # Errors
/// When no fact, or several, begin like that, or when the store cannot be read.
pub fn fact(node: &Node, given: &str) -> Result<FactId, AnswerError> {
    let digits = given.trim().to_ascii_lowercase();
    let is_hex = digits.len() >= 4 && digits.chars().all(|c| c.is_ascii_hexdigit());
    let found = if is_hex {
        node.facts_beginning(&digits, FACTS_LISTED)?
    } else {
        Vec::new()
    };
    match found.as_slice() {
        [] => Err(ResolveError::NoFact(given.to_owned()).into()),
        [one] => Ok(one.fact.id()),
        several => {
            let told = |w: &std::sync::Arc<gladhand_reconcile::RecordedFact>| {
                let id: String = w.fact.id().to_string().chars().take(12).collect();
                format!("{id} ({})", crate::fact_words::summary(&w.fact))
            };
            Err(ResolveError::Ambiguous {
                what: "fact",
                given: given.to_owned(),
                found: several.iter().map(told).collect(),
            }
            .into())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_number_is_no_beginning() {
        for (name, given, expected) in [
            ("J10", "J1", false),
            ("J10", "J", true),
            ("0302-M21", "0302", true),
            ("0302-M21", "0302-M2", false),
            ("LF5396-k3xp", "LF5396", true),
            ("LF5396-k3xp", "LF539", false),
            ("LF5396-47xp", "LF5396-47", true),
            ("0a1b2c3d4e", "0a1", true),
            ("0a1b2c3d44", "0a1b2c3d4", true),
            ("f-0zw2381xk4rt", "f-0zw2", true),
            ("J1", "", false),
        ] {
            assert_eq!(begins(name, given, name), expected, "{given} of {name}");
        }
    }
}
