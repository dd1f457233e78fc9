//! A device speaks with two voices: a cloned disk, a restored backup, or tampering.
//!
//! Either two different entries claim the same place in one log, or a home that was copied or restored noticed it in time and
//! went on in a log of its own, while the log that it goes on from went on as well. In the second case nothing is lost,
//! but somebody must know that what this device says may come from two places, and that a restored disk may lack
//! what no peer had taken.
//!
//! Standing: `-`. Nobody recorded anything against what another had recorded.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::LogId;

use super::rule::Rule;
use crate::draft::Draft;
use crate::facts::{Fork, Split};
use crate::finding::Severity;
use crate::subject::{Class, Subject};
use crate::words::listed;
use crate::world::{Case, World};

pub(super) struct LogForked;

impl Rule for LogForked {
    fn name(&self) -> &'static str {
        "log-forked"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Device]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let Subject::Device(device) = &case.subject else {
            return None;
        };
        let mut forks = world.facts.forks();
        forks.retain(|f| f.log.device == *device);
        if forks.is_empty() {
            return None;
        }
        let name = world.facts.device_name(device);
        let says: Vec<String> = [claimed(&name, &forks), continued(&name, &forks)]
            .into_iter()
            .flatten()
            .collect();
        let draft = Draft {
            beyond: forks.iter().flat_map(|f| f.evidence.iter().copied()).collect(),
            ..Draft::new(Severity::Stop, [])
        };
        Some(draft.open(says.join(" "), next(&name)))
    }
}

/// What is said of entries that claim one place.
fn claimed(name: &str, forks: &[Fork]) -> Option<String> {
    let told: Vec<String> = forks.iter().filter_map(claim).collect();
    let says = || {
        format!(
            "Device {name} wrote different entries for the same place in its log: {}.",
            listed(told.iter().cloned())
        )
    };
    (!told.is_empty()).then(says)
}

/// `place 17 (1a2b3c4d and 5e6f7081)`.
fn claim(fork: &Fork) -> Option<String> {
    let Split::Claimed(hashes) = &fork.split else {
        return None;
    };
    let short = |hash: &[u8; 32]| hash.iter().take(4).map(|b| format!("{b:02x}")).collect::<String>();
    Some(format!("place {} ({})", fork.seq, listed(hashes.iter().map(short))))
}

/// What is said of homes that went on side by side.
fn continued(name: &str, forks: &[Fork]) -> Option<String> {
    let mut by_log: BTreeMap<LogId, (u64, BTreeSet<LogId>)> = BTreeMap::new();
    for fork in forks {
        if let Split::Continued(later) = &fork.split {
            // Where only one later log is named, the log itself is the other one that goes on.
            let itself = (later.len() == 1).then_some(fork.log);
            let (seq, logs) = by_log.entry(fork.log).or_insert((fork.seq, BTreeSet::new()));
            *seq = fork.seq.min(*seq);
            logs.extend(later.iter().copied().chain(itself));
        }
    }
    let told = by_log.iter().map(|(log, (seq, logs))| {
        format!(
            "from place {seq} of log {:x} on it is written in {} logs",
            log.incarnation,
            logs.len()
        )
    });
    let says = || {
        format!(
            "Device {name} was copied or restored from a backup, and went on from there more than once: {}. \
             All entries of all of them count.",
            listed(told)
        )
    };
    (!by_log.is_empty()).then(says)
}

fn next(name: &str) -> String {
    format!(
        "Find out whether the disk of {name} was copied or restored. If two copies are at work, keep one and take the other out of use; \
         if it was restored, record again what was recorded after the backup and reached no other device. Then settle this with a ruling."
    )
}
