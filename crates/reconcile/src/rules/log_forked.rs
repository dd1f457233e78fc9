//! Two different entries claim the same place in one log: a cloned disk, a restored backup, or tampering.
//!
//! Standing: `-`. Nobody recorded anything against what another had recorded.

use super::Rule;
use crate::facts::Fork;
use crate::finding::{Draft, Severity};
use crate::judge::{Case, World};
use crate::subject::{Class, Subject};
use crate::words::listed;

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
        let draft = Draft {
            beyond: forks.iter().filter_map(|f| f.evidence).collect(),
            ..Draft::new(Severity::Stop, [])
        };
        Some(draft.open(
            format!(
                "Device {name} wrote different entries for the same place in its log: {}.",
                listed(forks.iter().map(told))
            ),
            format!(
                "Find out whether the disk of {name} was copied or restored; keep one of the copies at work and retire the other."
            ),
        ))
    }
}

/// `place 17 (1a2b3c4d and 5e6f7081)`.
fn told(fork: &Fork) -> String {
    let short = |hash: &[u8; 32]| hash.iter().take(4).map(|b| format!("{b:02x}")).collect::<String>();
    format!("place {} ({})", fork.seq, listed(fork.hashes.iter().map(short)))
}
