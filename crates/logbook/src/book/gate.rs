//! The gate for what comes in: chain, signatures, retirement, closure. It judges a frame and changes nothing.

use std::borrow::Cow;
use std::collections::BTreeMap;

use gladhand_facts::{LogId, Stamp};

use super::{Book, GateError, Growth, HashOf, Incoming, NewRecord, NewRecords, is_disowned};
use crate::entry::{Body, Entry, EntryHash};
use crate::frame::{EntryRun, Frame};
use crate::governance::Record;
use crate::roster::{Refusal, Roster};

impl Book {
    /// Judges a frame. What is let in must be made durable and then applied; what is not is named.
    ///
    /// A frame is true only as a whole where its runs have seen each other, so a run that is refused takes along the
    /// runs that had seen it.
    ///
    /// `held_hash` gives the hash of an entry that is held, for telling what is known from what contradicts it.
    pub fn admit(&self, frame: &Frame, held_hash: HashOf<'_>) -> Incoming {
        let mut incoming = Incoming::default();
        let mut good: BTreeMap<LogId, Checked> = BTreeMap::new();
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
        while let Some((log, error)) = self.first_unclosed(&good, &self.roster_after(&good)) {
            good.remove(&log);
            incoming.refused.push(error);
        }
        for run in frame.runs.iter() {
            let Some(checked) = good.remove(&run.log) else { continue };
            incoming.entries += checked.entries.len() as u64;
            checked.hand_over(run, &mut incoming.new);
        }
        incoming
    }

    /// Chain, signature, retirement: everything about a run that does not depend on the others.
    fn check_run(&self, run: &EntryRun, held_hash: HashOf<'_>) -> Result<Option<Checked>, GateError> {
        let log = run.log;
        self.roster.admits(&log.device)?;
        let (held, head_hash) = self.head(&log);
        let (first, last) = (run.first, run.last());
        if first > held + 1 {
            return Err(GateError::Gap {
                log,
                held,
                found: first,
            });
        }
        let chained = run.chained();
        if last <= held {
            let theirs = chained.last().map_or(run.previous, |(hash, _)| *hash);
            return match held_hash(&log, last) {
                Some(ours) if ours != theirs => {
                    self.check_signatures(run, &chained)?;
                    Err(GateError::Forked {
                        log,
                        seq: last,
                        ours,
                        theirs,
                    })
                }
                _ => Ok(None),
            };
        }
        self.check_signatures(run, &chained)?;
        let (limit, cut) = self.limit(run);
        if limit <= held {
            return cut.map_or(Ok(None), Err);
        }
        let skip = usize::try_from(held + 1 - first).unwrap_or(usize::MAX);
        let joint = if skip == 0 {
            run.previous
        } else {
            chained.get(skip - 1).map_or(EntryHash::ZERO, |(h, _)| *h)
        };
        if joint != head_hash {
            return Err(GateError::Forked {
                log,
                seq: held,
                ours: head_hash,
                theirs: joint,
            });
        }
        let mut growth = Growth::at(held, head_hash, Stamp::default());
        let mut entries = Vec::new();
        let mut records = Vec::new();
        for (seq, (hash, bytes)) in (first..=limit).zip(chained).skip(skip) {
            let wrong = |source| GateError::Entry { log, seq, source };
            let header = Entry::header(&bytes).map_err(wrong)?;
            if header.seq != seq {
                return Err(GateError::Gap {
                    log,
                    held: seq - 1,
                    found: header.seq,
                });
            }
            if header.is_governance()
                && let Ok(Entry {
                    body: Body::Governance(json),
                    ..
                }) = Entry::decode(&bytes)
                && let Some(record) = Record::decode(&json)
            {
                records.push((log, seq, record));
            }
            growth.grow(seq, hash, header.stamp, header.seen);
            entries.push((seq, bytes));
        }
        growth.checkpoints = run
            .checkpoints
            .iter()
            .map(|c| c.seq)
            .filter(|s| *s > held && *s <= limit)
            .collect();
        Ok(Some(Checked {
            growth,
            entries,
            records,
            known: skip as u64,
            cut,
        }))
    }

    /// How far into a run we go: to its end, or before a retirement to the first checkpoint that vouches for everything that
    /// counts. Whoever hands it over may have only a later one: what stands in between is held then, and counts nowhere.
    fn limit(&self, run: &EntryRun) -> (u64, Option<GateError>) {
        match self.roster.admits_entry(&run.log, run.last()) {
            Ok(()) => (run.last(), None),
            Err(refusal) => {
                let last = if let Refusal::Retired { last, .. } = &refusal {
                    *last
                } else {
                    0
                };
                let lacking = last > self.head(&run.log).0;
                let vouching = run
                    .checkpoints
                    .iter()
                    .map(|c| c.seq)
                    .filter(|seq| lacking && *seq >= last);
                (vouching.min().unwrap_or(0), Some(GateError::Refused(refusal)))
            }
        }
    }

    fn check_signatures(&self, run: &EntryRun, chained: &[(EntryHash, Vec<u8>)]) -> Result<(), GateError> {
        let unsigned = GateError::Unsigned {
            log: run.log,
            from: run.first,
            to: run.last(),
        };
        if run.is_vouched_for(chained) {
            Ok(())
        } else {
            Err(unsigned)
        }
    }

    /// The roster as it will be with the retirements among these runs: whoever brings what had met a retired device may
    /// bring the retirement along, and without it nobody could take in either.
    fn roster_after(&self, good: &BTreeMap<LogId, Checked>) -> Cow<'_, Roster> {
        let root = self.roster.root();
        let by_root = good.iter().filter(|(log, _)| Some(log.device) == root);
        let records = by_root.flat_map(|(_, checked)| &checked.records);
        let mut roster = Cow::Borrowed(&self.roster);
        for (log, seq, record) in records.filter(|(.., record)| matches!(record, Record::Retire { .. })) {
            roster.to_mut().learn(log, *seq, record.clone());
        }
        roster
    }

    fn first_unclosed(&self, good: &BTreeMap<LogId, Checked>, roster: &Roster) -> Option<(LogId, GateError)> {
        let held = |log: &LogId| {
            good.get(log)
                .map_or_else(|| self.head(log).0, |checked| checked.growth.head_seq)
        };
        good.iter().find_map(|(log, checked)| {
            checked.growth.seen.iter().find_map(|(seq, newly)| {
                let (other, _) = newly
                    .iter()
                    .find(|(other, want)| held(other) < *want && !is_disowned(roster, other, *want))?;
                Some((
                    *log,
                    GateError::NotClosed {
                        log: *log,
                        seq: *seq,
                        other,
                    },
                ))
            })
        })
    }
}

/// A run that stands on its own feet: chained, signed, and following what we hold.
struct Checked {
    growth: Growth,
    entries: Vec<(u64, Vec<u8>)>,
    records: Vec<(LogId, u64, Record)>,
    known: u64,
    /// Why the rest of the run was left out, if it was.
    cut: Option<GateError>,
}

impl Checked {
    fn hand_over(self, run: &EntryRun, new: &mut NewRecords) {
        let log = run.log;
        new.records.extend(
            self.entries
                .into_iter()
                .map(|(seq, bytes)| NewRecord::Entry { log, seq, bytes }),
        );
        let fresh = run
            .checkpoints
            .iter()
            .filter(|c| self.growth.checkpoints.contains(&c.seq));
        new.records.extend(fresh.cloned().map(NewRecord::Checkpoint));
        new.effects.logs.insert(log, self.growth);
        new.effects.records.extend(self.records);
    }
}
