//! Histories: the merged facts of a job, a camera, a tracker, a trailer or a device, as known now or as a device knew them.
//!
//! The facts come from the index; only a history without any selection reads the whole journal. Which devices had seen a fact
//! comes from the book: the first entry of each device that had seen it.
//!
//! Deliberately absent: words for people.
//!
//! Invariant: a history is a function of what is held, so nodes with equal version vectors give equal histories.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use gladhand_facts::{DeviceKey, FactId, Kind, Place};
use gladhand_reconcile::counting::withdrawals;
use gladhand_reconcile::timeline::{self, Detail, HistoryRow};
use gladhand_reconcile::{
    Class, Clocks, Facts, Finding, RecordedFact, Subject, ToldFinding, World, judge, judge_all, judge_subject,
    mentions, order,
};
use gladhand_trade::Standard;

use crate::error::NodeError;
use crate::indexed_facts::IndexedFacts;
use crate::judging::MAX_IN_MEMORY;
use crate::node::Node;
use crate::past::Past;
use crate::seen::SeenByLookup;

/// The selection of a history.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct HistoryQuery {
    /// Jobs, cameras, trackers, trailers. A fact must belong to all of them.
    pub subjects: Vec<Subject>,
    /// Only what this device recorded.
    pub device: Option<DeviceKey>,
    /// Only what happened from then on according to the depot's clock, in microseconds since 1970.
    pub since_us: Option<i64>,
    /// Only what had happened by then according to the depot's clock, in microseconds since 1970.
    pub until_us: Option<i64>,
    /// Whether findings are wanted.
    pub findings: bool,
}

/// A history.
#[derive(Debug, Default)]
pub struct History {
    /// Its lines, in causal order.
    pub lines: Vec<HistoryRow>,
    /// The facts of the lines, in the same order.
    pub recorded_facts: Vec<Arc<RecordedFact>>,
    /// The findings, if wanted: all for a whole history, otherwise those that involve its facts or subjects.
    pub findings: Vec<ToldFinding>,
    /// How many facts were left out because of their time, although they may have happened before [`HistoryQuery::until_us`].
    pub perhaps_too: usize,
}

type Found = BTreeMap<Place, Arc<RecordedFact>>;

impl HistoryQuery {
    fn is_whole(&self) -> bool {
        self.subjects.is_empty() && self.device.is_none()
    }

    fn detail(&self) -> Detail {
        if self.is_whole() { Detail::Counts } else { Detail::Full }
    }
}

impl Node {
    /// The history that `query` asks for, as it is known here, or as it was known at a moment.
    ///
    /// # Errors
    /// When index or journal cannot be read.
    pub fn history(&self, query: &HistoryQuery, past: Option<&Past>) -> Result<History, NodeError> {
        let indexed = IndexedFacts::at(self, past);
        let standard = past.map_or_else(|| self.standard(), |p| p.standard().clone());
        let clocks = past.map_or_else(|| self.clocks(), |p| p.clocks().clone());
        let mut recorded_facts: Vec<_> = gather(&indexed, query)?.into_values().collect();
        let perhaps_too = query
            .until_us
            .map_or(0, |until_us| keep_until(&clocks, until_us, &mut recorded_facts));
        if let Some(since_us) = query.since_us {
            keep_since(&clocks, since_us, &mut recorded_facts);
        }
        let mut lines = timeline::timeline(&indexed, &indexed, &clocks, &recorded_facts, query.detail());
        let mut seen_by = SeenByLookup::new(self, &indexed, past);
        for line in &mut lines {
            line.seen_by = seen_by.of(&line.place)?;
        }
        let world = World {
            facts: &indexed,
            standard: &standard,
            clocks: &clocks,
        };
        strike_through(&mut lines, &recorded_facts, &world);
        let recorded_facts = order::in_causal_order(&recorded_facts);
        let findings = match (query.findings, query.is_whole()) {
            (false, _) => Vec::new(),
            (true, true) => self.all_findings(past, &standard, &clocks)?,
            (true, false) => findings_on(&indexed, &standard, &clocks, query, &recorded_facts),
        };
        let findings = ToldFinding::all(&findings, &indexed);
        indexed.failure()?;
        name_findings(&mut lines, &findings);
        Ok(History {
            lines,
            recorded_facts,
            findings,
            perhaps_too,
        })
    }

    /// The findings that a device would have shown at a moment.
    ///
    /// # Errors
    /// When index or journal cannot be read.
    pub fn findings_at(&self, past: &Past) -> Result<Vec<Finding>, NodeError> {
        self.all_findings(Some(past), past.standard(), past.clocks())
    }

    fn all_findings(
        &self,
        past: Option<&Past>,
        standard: &Standard,
        clocks: &Clocks,
    ) -> Result<Vec<Finding>, NodeError> {
        let over = |facts: &dyn Facts| {
            judge_all(&World {
                facts,
                standard,
                clocks,
            })
        };
        let entries = past.map_or_else(|| self.book.vector().entries(), |p| p.vector().entries());
        if entries <= MAX_IN_MEMORY {
            return Ok(over(&self.facts_at(past)?));
        }
        let indexed = IndexedFacts::at(self, past);
        let found = over(&indexed);
        indexed.failure()?;
        Ok(found)
    }
}

/// Notes in each line the withdrawal that took its fact back, if that counts.
fn strike_through(lines: &mut [HistoryRow], recorded_facts: &[Arc<RecordedFact>], world: &World<'_>) {
    let taken_back = recorded_facts.iter().filter(|w| w.is(&Kind::Withdraw));
    let subjects: BTreeSet<Subject> = taken_back
        .flat_map(|w| mentions(&w.fact, &w.place.log.device))
        .collect();
    let mut by_place = BTreeMap::new();
    for subject in &subjects {
        let counting = withdrawals(world, &world.facts.about(subject))
            .into_iter()
            .filter(|w| w.counts);
        by_place.extend(counting.map(|w| (w.of.place, w.by.fact.id())));
    }
    for line in lines {
        line.withdrawn_by = by_place.get(&line.place).copied();
    }
}

/// Notes in each line which findings its fact is part of.
fn name_findings(lines: &mut [HistoryRow], findings: &[ToldFinding]) {
    let mut makes: BTreeMap<FactId, Vec<String>> = BTreeMap::new();
    for finding in findings {
        for fact in &finding.facts {
            makes.entry(*fact).or_default().push(finding.id.clone());
        }
    }
    for line in lines {
        line.findings = makes.get(&line.id).cloned().unwrap_or_default();
    }
}

/// The facts that fit the whole selection.
fn gather(indexed: &IndexedFacts<'_>, query: &HistoryQuery) -> Result<Found, NodeError> {
    let mut sets = query.subjects.iter().map(|subject| match subject {
        Subject::Camera(_) | Subject::Tracker(_) => with_ends(indexed, subject),
        Subject::Trailer(_) => with_jobs(indexed, subject),
        _ => about(indexed, subject),
    });
    let mut found = match sets.next() {
        Some(first) => first,
        None => placed(indexed.recorded_by(query.device)?),
    };
    for set in sets {
        found.retain(|place, _| set.contains_key(place));
    }
    found.retain(|place, _| query.device.is_none_or(|d| place.log.device == d));
    Ok(found)
}

fn placed(recorded_facts: Vec<Arc<RecordedFact>>) -> Found {
    recorded_facts.into_iter().map(|w| (w.place, w)).collect()
}

fn about(indexed: &IndexedFacts<'_>, subject: &Subject) -> Found {
    placed(indexed.about(subject))
}

/// The facts that name a part, and how the jobs that name it ended.
fn with_ends(indexed: &IndexedFacts<'_>, part: &Subject) -> Found {
    let mut found = about(indexed, part);
    for job in jobs_in(&found) {
        let ends = |w: &Arc<RecordedFact>| matches!(w.fact.kind(), Kind::SignOff | Kind::StandDown | Kind::Proof);
        found.extend(about(indexed, &job).into_iter().filter(|(_, w)| ends(w)));
    }
    found
}

/// All facts of the jobs on a trailer.
fn with_jobs(indexed: &IndexedFacts<'_>, trailer: &Subject) -> Found {
    let mut found = about(indexed, trailer);
    for job in jobs_in(&found) {
        found.extend(about(indexed, &job));
    }
    found
}

fn jobs_in(found: &Found) -> BTreeSet<Subject> {
    let named = found.values().filter_map(|w| w.owned("job"));
    named.map(|job| Subject::job(&job)).collect()
}

/// Drops what happened after `until_us`. An uncertain time counts by the middle of its interval, and one that is open on a side (what a
/// person says, what sources contradict) as it was written. Returns how many of the dropped facts may have happened before.
fn keep_until(clocks: &Clocks, until_us: i64, recorded_facts: &mut Vec<Arc<RecordedFact>>) -> usize {
    let mut perhaps_too = 0;
    recorded_facts.retain(|w| {
        let interval = clocks.interval_of(w);
        let middle_us = match interval {
            Some(closed) if closed.is_closed() => closed.from_us.saturating_add(closed.width_us() / 2),
            _ => w.at().unix_us(),
        };
        let kept = middle_us <= until_us;
        let perhaps = interval.is_some_and(|interval| interval.from_us <= until_us);
        perhaps_too += usize::from(!kept && perhaps);
        kept
    });
    perhaps_too
}

/// Drops what happened before `since_us`. What may have happened since stays.
fn keep_since(clocks: &Clocks, since_us: i64, recorded_facts: &mut Vec<Arc<RecordedFact>>) {
    recorded_facts.retain(|w| match clocks.interval_of(w) {
        None => since_us <= w.at().unix_us(),
        Some(interval) => since_us <= interval.from_us.saturating_add(interval.width_us()),
    });
}

/// The findings that involve these facts, and those about the selected subjects.
fn findings_on(
    indexed: &IndexedFacts<'_>,
    standard: &Standard,
    clocks: &Clocks,
    query: &HistoryQuery,
    recorded_facts: &[Arc<RecordedFact>],
) -> Vec<Finding> {
    let (facts, asked) = (indexed as &dyn Facts, asked_for(query));
    let world = World {
        facts,
        standard,
        clocks,
    };
    let mut subjects = asked.clone();
    for recorded in recorded_facts {
        subjects.extend(mentions(&recorded.fact, &recorded.place.log.device));
    }
    let codes: Vec<Subject> = subjects.iter().filter_map(code_of).collect();
    subjects.extend(codes);
    let shown: BTreeSet<_> = recorded_facts.iter().map(|w| w.fact.id()).collect();
    let mut found = Vec::new();
    for subject in &subjects {
        let mut here = judge_subject(&world, subject);
        here.retain(|f| asked.contains(subject) || f.facts.iter().any(|id| shown.contains(id)));
        found.extend(here);
    }
    judge::sort(&mut found);
    found
}

fn asked_for(query: &HistoryQuery) -> BTreeSet<Subject> {
    let device = query.device.map(Subject::Device);
    query.subjects.iter().cloned().chain(device).collect()
}

/// The name of a part is also a code, and findings may be about the code.
fn code_of(subject: &Subject) -> Option<Subject> {
    let is_part = matches!(subject.class(), Class::Camera | Class::Tracker);
    is_part.then(|| Subject::Code(subject.text().into_owned()))
}
