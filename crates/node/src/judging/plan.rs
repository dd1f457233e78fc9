//! Which subjects a round must judge: those that news touch.
//!
//! News are entries that are new, entries that count now or no longer, forks, and what became known of clocks. Of a clock only what
//! compares otherwise than before is news: the facts with a time within the changed stretches ([`ClockChanges`]), found by the days
//! under which the index files them. Other rules or another work standard touch everything.
//!
//! What the depot's entries enclose narrows the time of a fact twice: what its recorder had seen is known with it, and the depot's
//! first entry that had seen it comes later. So an entry of the depot also touches what it has newly seen, and nothing else.

use std::collections::BTreeSet;

use gladhand_facts::LogId;
use gladhand_reconcile::touched::touched;
use gladhand_reconcile::{Class, ClockChanges, Subject, World, judge, touched_by};
use gladhand_store::{Position, RecordKind};

use super::depends::Depends;
use crate::error::NodeError;
use crate::indexed_facts::IndexedFacts;
use crate::node::Node;

/// With more new entries than this, and more than a quarter of all, all subjects are judged: it is cheaper than finding those that
/// are touched.
const MANY_ENTRIES: usize = 20_000;

/// What a round must judge.
pub(super) struct Plan {
    pub(super) subjects: BTreeSet<Subject>,
    /// Whether these are all that there are.
    pub(super) is_all: bool,
    /// What the findings will depend on.
    pub(super) depends: Depends,
}

type Entries = BTreeSet<(LogId, u64)>;

impl Node {
    /// What must be judged; `None` when everything is.
    pub(super) fn plan_round(&self) -> Result<Option<Plan>, NodeError> {
        let (depends, before) = (self.depends(), self.depended()?);
        if before.as_ref() == Some(&depends) {
            return Ok(None);
        }
        let touched = match &before {
            Some(before) if before.rules == depends.rules => self.touched_since(before, &depends)?,
            _ => None,
        };
        let is_all = touched.is_none();
        let subjects = match touched {
            Some(subjects) => subjects,
            None => self.all_candidates()?,
        };
        Ok(Some(Plan {
            subjects,
            is_all,
            depends,
        }))
    }

    fn all_candidates(&self) -> Result<BTreeSet<Subject>, NodeError> {
        let (standard, clocks, indexed) = (self.standard(), self.clocks(), IndexedFacts::new(self));
        let world = World {
            facts: &indexed,
            standard: &standard,
            clocks: &clocks,
        };
        let mut subjects: BTreeSet<Subject> = Class::ALL
            .into_iter()
            .flat_map(|c| judge::candidates(&world, c))
            .collect();
        indexed.failure()?;
        // What no fact that counts names any more has no findings.
        subjects.extend(self.subjects_with_findings()?);
        Ok(subjects)
    }

    /// What changed since `before`; `None` when everything is to be judged.
    fn touched_since(&self, before: &Depends, now: &Depends) -> Result<Option<BTreeSet<Subject>>, NodeError> {
        let Some(held) = before.vector() else { return Ok(None) };
        let Some(mut entries) = self.new_entries(before.upto())? else {
            return Ok(None);
        };
        entries.extend(self.newly_counted(before, now));
        let clocks = self.clocks();
        let changes = clocks.changes_since(&self.clocks_then(before, &held));
        if changes.everything {
            return Ok(None);
        }
        let mut retimed = self.retimed(&changes)?;
        retimed.retain(|entry| !entries.contains(entry));
        if is_most(retimed.len(), self.book.vector().entries()) {
            return Ok(None);
        }
        let (standard, indexed) = (self.standard(), IndexedFacts::new(self));
        let mut subjects: BTreeSet<Subject> = changes.devices.iter().copied().map(Subject::Device).collect();
        if before.forks != now.forks {
            subjects.extend(
                indexed
                    .known_forks()
                    .into_iter()
                    .map(|fork| Subject::Device(fork.log.device)),
            );
        }
        let world = World {
            facts: &indexed,
            standard: &standard,
            clocks: &clocks,
        };
        // A failure counts as unknown here; the index reports it again when the findings are read.
        let subject_of = |id: &str| self.subject_of(id).ok().flatten();
        let mut news = Vec::new();
        for (log, seq) in entries {
            news.extend(indexed.entry(&log, seq)?.iter().cloned());
        }
        subjects.extend(touched_by(&world, &news, &subject_of));
        for (log, seq) in retimed {
            let facts = indexed.entry(&log, seq)?;
            subjects.extend(facts.iter().flat_map(|w| touched(&world, w, &subject_of)));
        }
        indexed.failure()?;
        Ok(Some(subjects))
    }

    /// The entries after `since` and what they newly enclose; `None` when there are too many.
    fn new_entries(&self, since: Position) -> Result<Option<Entries>, NodeError> {
        let held = self.book.vector().entries();
        let mut entries = Entries::new();
        for batch in self.journal.scan_from(since) {
            let batch = batch?;
            for record in batch.records().filter(|r| r.kind == RecordKind::Entry) {
                entries.insert((record.log, record.seq));
                entries.extend(self.newly_enclosed(&record.log, record.seq));
                if is_most(entries.len(), held) {
                    return Ok(None);
                }
            }
        }
        Ok(Some(entries))
    }

    /// The entries of other logs that an entry of the depot had newly seen; none for one of another device.
    fn newly_enclosed(&self, log: &LogId, seq: u64) -> Vec<(LogId, u64)> {
        if self.book.roster().root() != Some(log.device) {
            return Vec::new();
        }
        let (before, now) = (
            self.book.seen_at(log, seq.saturating_sub(1)),
            self.book.seen_at(log, seq),
        );
        let grown = now.iter().map(|(other, last)| (other, before.get(&other), last));
        let entries = grown.flat_map(|(other, from, last)| (from + 1..=last).map(move |seq| (other, seq)));
        // What had been seen may have been lost since, or not count.
        let holds = |log: &LogId, seq: u64| seq <= self.book.head(log).0 && self.book.counts(log, seq).is_ok();
        entries.filter(|(other, seq)| holds(other, *seq)).collect()
    }

    /// The entries that count now and did not before, or no longer do.
    fn newly_counted(&self, before: &Depends, now: &Depends) -> Entries {
        let logs: BTreeSet<LogId> = before.cut().chain(now.cut()).map(|(log, _)| log).collect();
        let mut found = Entries::new();
        for log in logs {
            let (was, is) = (before.last_counted(&log), now.last_counted(&log));
            let last = was.max(is).min(self.book.head(&log).0);
            found.extend((was.min(is).saturating_add(1)..=last).map(|seq| (log, seq)));
        }
        found
    }

    /// The entries whose times compare otherwise than before.
    fn retimed(&self, changes: &ClockChanges) -> Result<Entries, NodeError> {
        let mut entries = Entries::new();
        for (log, stretches) in &changes.entries {
            let head = self.book.head(log).0;
            for (first, last) in stretches {
                entries.extend((*first..=(*last).min(head)).map(|seq| (*log, seq)));
            }
        }
        for (device, (from_us, to_us)) in &changes.times {
            entries.extend(self.entries_between(device, *from_us, *to_us)?);
        }
        Ok(entries)
    }
}

/// Whether so many entries are touched that judging all subjects is cheaper than finding those that are.
fn is_most(touched: usize, entries: u64) -> bool {
    touched > MANY_ENTRIES.max(usize::try_from(entries / 4).unwrap_or(usize::MAX))
}
