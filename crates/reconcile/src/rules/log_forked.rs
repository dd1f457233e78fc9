//! A device's log goes on in more than one way: a cloned disk, a restored backup, or tampering.
//!
//! Either two different entries claim the same place in one log, or a home that was copied or restored noticed it in time and
//! went on in a log of its own, while the log that it goes on from went on as well. In the second case nothing is lost. It is
//! reported all the same: facts of this device may come from two places, and a restored disk may lack what no peer had taken.
//!
//! It touches the jobs that any of the branches records something on after the split: what a branch did not know of the other may
//! be missing there.
//!
//! Standing: `-`. Nobody recorded anything against what another had recorded.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::LogId;

use super::rule::Rule;
use crate::case::Case;
use crate::draft::Draft;
use crate::facts::{Fork, Split};
use crate::finding::Severity;
use crate::reason::Reason;
use crate::reason::device::{ClaimedPlace, Continuation, ForkedLog};
use crate::subject::{Class, Subject};
use crate::world::World;

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
        let reason = Reason::LogForked(ForkedLog {
            claims: forks.iter().filter_map(claim).collect(),
            continuations: continuations(&forks),
        });
        let jobs: BTreeSet<String> = forks.iter().flat_map(|fork| touched_jobs(world, fork)).collect();
        let evidence = forks.iter().flat_map(|f| f.evidence.iter().copied());
        Some(Draft::new(Severity::Stop, jobs, reason).shown_at(evidence))
    }
}

/// The jobs that the branches record something on.
fn touched_jobs(world: &World<'_>, fork: &Fork) -> BTreeSet<String> {
    let later: &[LogId] = match &fork.split {
        Split::Claimed(_) => &[],
        Split::Continued(later) => later,
    };
    let branches = later.iter().map(|log| (*log, 1)).chain([(fork.log, fork.seq)]);
    branches
        .flat_map(|(log, from)| world.facts.jobs_in(&log, from))
        .collect()
}

fn claim(fork: &Fork) -> Option<ClaimedPlace> {
    let Split::Claimed(hashes) = &fork.split else {
        return None;
    };
    let hex = |hash: &[u8; 32]| hash.iter().map(|b| format!("{b:02x}")).collect::<String>();
    Some(ClaimedPlace {
        log: fork.log,
        seq: fork.seq,
        hashes: hashes.iter().map(hex).collect(),
    })
}

/// The logs that go on in several others: all forks of one log together, from the first of their places.
fn continuations(forks: &[Fork]) -> Vec<Continuation> {
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
    let continuation = |(log, (seq, logs))| Continuation { log, seq, logs };
    by_log.into_iter().map(continuation).collect()
}
