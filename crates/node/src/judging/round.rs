//! One round of judging on a snapshot.
//!
//! Subjects are judged in the order in which their facts were recorded, so that what was read for one is at hand for the next, and by
//! two threads where there is much to do. What comes of it is handed over in parts.

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc;

use gladhand_facts::Place;
use gladhand_reconcile::{Subject, World, judge_subject};

use super::kept::{Part, judged_row};
use super::plan::Plan;
use crate::error::NodeError;
use crate::indexed_facts::IndexedFacts;
use crate::snapshot::Snapshot;

/// The most entries that are read into memory for judging, at about a kilobyte each. Beyond that it is not faster than the index.
pub(crate) const MAX_IN_MEMORY: u64 = 30_000;
/// How many subjects are judged in one go.
const SUBJECTS_AT_ONCE: usize = 64;
/// With fewer subjects than this a second thread is not worth it.
const MANY_SUBJECTS: usize = 1_000;
/// The field laptops have two cores.
const THREADS: usize = 2;
/// How many parts may wait for being kept.
const PARTS_WAITING: usize = 4;

/// What came of some subjects.
struct Judged {
    rows: Part,
    ids: Vec<String>,
}

/// See [`Snapshot::judge_with`].
pub(super) fn run(
    snapshot: &Snapshot,
    plan: Plan,
    keep: &mut dyn FnMut(Part) -> Result<(), NodeError>,
) -> Result<(), NodeError> {
    let subjects = in_order_of_recording(snapshot, plan.subjects)?;
    let mut ids = BTreeSet::new();
    judge_all(snapshot, &subjects, &mut |judged| {
        if plan.is_all {
            ids.extend(judged.ids);
        }
        keep(judged.rows)
    })?;
    if plan.is_all {
        keep(snapshot.forget_except(&ids)?)?;
    }
    keep(vec![judged_row(plan.depends.encode()?)])
}

fn in_order_of_recording(snapshot: &Snapshot, subjects: BTreeSet<Subject>) -> Result<Vec<Subject>, NodeError> {
    let mut placed: Vec<(Option<Place>, Subject)> = Vec::with_capacity(subjects.len());
    for subject in subjects {
        let first = snapshot.index.first_about(&subject.to_key())?;
        placed.push((first, subject));
    }
    placed.sort();
    Ok(placed.into_iter().map(|(_, subject)| subject).collect())
}

fn judge_all(
    snapshot: &Snapshot,
    subjects: &[Subject],
    take: &mut dyn FnMut(Judged) -> Result<(), NodeError>,
) -> Result<(), NodeError> {
    let threads = if subjects.len() < MANY_SUBJECTS { 1 } else { THREADS };
    if threads == 1 {
        let judge = Judge::new(snapshot);
        return subjects
            .chunks(SUBJECTS_AT_ONCE)
            .try_for_each(|some| take(judge.judge(some)?));
    }
    let next = AtomicUsize::new(0);
    let work = |out: mpsc::SyncSender<Result<Judged, NodeError>>| {
        let judge = Judge::new(snapshot);
        loop {
            let from = next.fetch_add(SUBJECTS_AT_ONCE, Ordering::Relaxed);
            let some = subjects.iter().skip(from).take(SUBJECTS_AT_ONCE);
            let some: Vec<Subject> = some.cloned().collect();
            // Nobody takes any more when one of the parts could not be kept.
            if some.is_empty() || out.send(judge.judge(&some)).is_err() {
                return;
            }
        }
    };
    std::thread::scope(|scope| {
        let (out, judged) = mpsc::sync_channel(PARTS_WAITING);
        for _ in 0..threads {
            let out = out.clone();
            scope.spawn(|| work(out));
        }
        drop(out);
        judged.into_iter().try_for_each(|part| take(part?))
    })
}

/// What one thread judges with.
struct Judge<'s> {
    snapshot: &'s Snapshot,
    indexed: IndexedFacts<'s>,
    standard: gladhand_trade::Standard,
    clocks: gladhand_reconcile::Clocks,
}

impl<'s> Judge<'s> {
    fn new(snapshot: &'s Snapshot) -> Self {
        Self {
            snapshot,
            indexed: IndexedFacts::new(snapshot),
            standard: snapshot.standard(),
            clocks: snapshot.clocks(),
        }
    }

    fn judge(&self, subjects: &[Subject]) -> Result<Judged, NodeError> {
        let world = World {
            facts: &self.indexed,
            standard: &self.standard,
            clocks: &self.clocks,
        };
        let mut judged = Judged {
            rows: Part::new(),
            ids: Vec::new(),
        };
        for subject in subjects {
            let findings = judge_subject(&world, subject);
            judged.rows.extend(self.snapshot.rows_of(subject, &findings)?);
            judged.ids.extend(findings.into_iter().map(|finding| finding.id));
        }
        self.indexed.failure()?;
        Ok(judged)
    }
}
