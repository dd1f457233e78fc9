//! The gate for what peers send: chain, signatures, retirement, causal closure. It judges a frame and changes nothing.

use std::borrow::Cow;
use std::collections::BTreeMap;

use gladhand_facts::{LogId, Stamp};

use super::error::GateError;
use super::records::{Incoming, LogGrowth, NewRecord, NewRecords};
use super::{Book, HashOf};
use crate::entry::{Entry, EntryHash};
use crate::frame::{ChainedRun, EntryRun, Frame};
use crate::governance::Record;
use crate::roster::{Refusal, Roster};

impl Book {
    /// Judges a frame. What is let in must be made durable and then applied; what is refused is named.
    ///
    /// Runs in a frame may have seen each other, so a run that is refused takes along the runs that had seen it.
    ///
    /// `held_hash` gives the hash of an entry that is held, to tell what is known from what contradicts it.
    pub fn admit(&self, frame: &Frame, held_hash: HashOf<'_>) -> Incoming {
        let mut incoming = Incoming::default();
        let mut good: BTreeMap<LogId, CheckedRun> = BTreeMap::new();
        for run in &frame.runs {
            match self.check_run(run, held_hash) {
                Ok(Some(mut checked)) => {
                    incoming.known += checked.known;
                    incoming.refused.extend(checked.cut.take());
                    good.insert(run.log, checked);
                }
                Ok(None) => incoming.known += run.entries.len() as u64,
                Err(e) => incoming.refused.push(e),
            }
        }
        while let Some((log, error)) = self.first_causal_gap(&good, &self.roster_after(&good)) {
            good.remove(&log);
            incoming.refused.push(error);
        }
        for run in &frame.runs {
            if let Some(checked) = good.remove(&run.log) {
                incoming.entries += checked.entries.len() as u64;
                checked.add_to(run, &mut incoming.new);
            }
        }
        incoming
    }

    /// Chain, signature, retirement: everything about a run that does not depend on the others. `None` when all of it is held.
    fn check_run(&self, run: &EntryRun, held_hash: HashOf<'_>) -> Result<Option<CheckedRun>, GateError> {
        let log = run.log;
        self.roster.admits(&log.device)?;
        let (held, head_hash) = self.head(&log);
        let found = run.first;
        if found > held + 1 {
            return Err(GateError::Gap { log, held, found });
        }
        let chained = run.chained();
        if run.last() <= held {
            return check_known(run, &chained, held_hash).map(|()| None);
        }
        check_signatures(run, &chained)?;
        let (limit, cut) = self.limit(run);
        let Some(limit) = limit.filter(|limit| *limit > held) else {
            return cut.map_or(Ok(None), |refusal| Err(refusal.into()));
        };
        // The run reaches back to what is held, so it has this hash: of that entry, or before its own first.
        let Some(theirs) = chained.hash_at(held) else {
            return Err(GateError::Gap { log, held, found });
        };
        if theirs != head_hash {
            return Err(GateError::Forked {
                log,
                seq: held,
                ours: head_hash,
                theirs,
            });
        }
        let mut checked = CheckedRun {
            growth: LogGrowth::at(held, head_hash, Stamp::default()),
            entries: Vec::new(),
            governance: Vec::new(),
            known: held + 1 - found,
            cut: cut.map(GateError::from),
        };
        let new = chained.into_entries().filter(|(seq, ..)| *seq > held && *seq <= limit);
        for (seq, hash, bytes) in new {
            checked.take(log, seq, hash, bytes)?;
        }
        let signed = run.checkpoints.iter().map(|c| c.seq);
        checked.growth.checkpoints = signed.filter(|seq| *seq > held && *seq <= limit).collect();
        Ok(Some(checked))
    }

    /// The last entry of a run that is let in, and why the rest is not. For a retired device that is the first checkpoint
    /// that covers everything that counts: a peer may have only a later signature, and then entries that do not count are held
    /// too.
    fn limit(&self, run: &EntryRun) -> (Option<u64>, Option<Refusal>) {
        match self.roster.admits_entry(&run.log, run.last()) {
            Ok(()) => (Some(run.last()), None),
            Err(Refusal::Retired { device, seq, last }) => {
                let lacks_some = last > self.head(&run.log).0;
                let signed = run.checkpoints.iter().map(|c| c.seq);
                let covering = signed.filter(|seq| lacks_some && *seq >= last).min();
                (covering, Some(Refusal::Retired { device, seq, last }))
            }
            Err(refusal) => (None, Some(refusal)),
        }
    }

    /// The roster as it will be with the retirements in these runs. A peer that sends entries which had seen a retired device
    /// may send the retirement along, and without it neither could be let in.
    fn roster_after(&self, good: &BTreeMap<LogId, CheckedRun>) -> Cow<'_, Roster> {
        let root = self.roster.root();
        let by_root = good.iter().filter(|(log, _)| Some(log.device) == root);
        let records = by_root.flat_map(|(_, checked)| &checked.governance);
        let mut roster = Cow::Borrowed(self.roster());
        for (log, seq, record) in records.filter(|(.., record)| matches!(record, Record::Retire { .. })) {
            roster.to_mut().learn(log, *seq, record.clone());
        }
        roster
    }

    /// The first entry that had seen something which is neither held nor among the good runs.
    fn first_causal_gap(&self, good: &BTreeMap<LogId, CheckedRun>, roster: &Roster) -> Option<(LogId, GateError)> {
        let held = |log: &LogId| {
            good.get(log)
                .map_or_else(|| self.head(log).0, |checked| checked.growth.head_seq)
        };
        let lacks = |(other, want): &(LogId, u64)| held(other) < *want && !roster.refuses_for_good(other, *want);
        good.iter().find_map(|(log, checked)| {
            checked.growth.seen.iter().find_map(|(seq, newly)| {
                let (other, _) = newly.iter().find(lacks)?;
                let (log, seq) = (*log, *seq);
                Some((log, GateError::NotClosed { log, seq, other }))
            })
        })
    }
}

/// A run of which everything seems to be held. Signed, and with another hash, it is a fork.
fn check_known(run: &EntryRun, chained: &ChainedRun<'_>, held_hash: HashOf<'_>) -> Result<(), GateError> {
    let (log, seq) = (run.log, run.last());
    let hashes = held_hash(&log, seq).zip(chained.hash_at(seq));
    let Some((ours, theirs)) = hashes.filter(|(ours, theirs)| ours != theirs) else {
        return Ok(());
    };
    check_signatures(run, chained)?;
    Err(GateError::Forked { log, seq, ours, theirs })
}

fn check_signatures(run: &EntryRun, chained: &ChainedRun<'_>) -> Result<(), GateError> {
    if chained.is_vouched_for() {
        return Ok(());
    }
    Err(GateError::Unsigned {
        log: run.log,
        from: run.first,
        to: run.last(),
    })
}

/// A run that is chained, signed, and follows what is held.
struct CheckedRun {
    growth: LogGrowth,
    /// The new entries.
    entries: Vec<(u64, Vec<u8>)>,
    governance: Vec<(LogId, u64, Record)>,
    /// How many of its entries were held.
    known: u64,
    /// Why the rest of the run is refused, if it is.
    cut: Option<GateError>,
}

impl CheckedRun {
    fn take(&mut self, log: LogId, seq: u64, hash: EntryHash, bytes: Vec<u8>) -> Result<(), GateError> {
        let wrong = |source| GateError::Entry { log, seq, source };
        let (header, record) = Entry::header_and_record(&bytes).map_err(wrong)?;
        if header.seq != seq {
            let (held, found) = (seq - 1, header.seq);
            return Err(GateError::Gap { log, held, found });
        }
        self.governance.extend(record.map(|record| (log, seq, record)));
        self.growth.grow(seq, hash, header.stamp, header.seen);
        self.entries.push((seq, bytes));
        Ok(())
    }

    fn add_to(self, run: &EntryRun, new: &mut NewRecords) {
        let log = run.log;
        let entries = self.entries.into_iter();
        new.records
            .extend(entries.map(|(seq, bytes)| NewRecord::Entry { log, seq, bytes }));
        let fresh = run
            .checkpoints
            .iter()
            .filter(|c| self.growth.checkpoints.contains(&c.seq));
        new.records.extend(fresh.cloned().map(NewRecord::Checkpoint));
        new.effects.logs.insert(log, self.growth);
        new.effects.governance.extend(self.governance);
    }
}
