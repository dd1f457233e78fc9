//! The merged facts, by subject.
//!
//! The rules read facts through [`Facts`] only. A store's index implements it; [`MemoryFacts`] serves tests, imports and small
//! sets.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Bound;
use std::sync::Arc;

use gladhand_facts::{Kind, LogId, Place, Stamp, VersionVector};

use crate::near::{NearIndex, is_near};
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject, mentions};

/// A device's log goes on in more than one way from one place.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fork {
    /// The log.
    pub log: LogId,
    /// The first place that was written twice, counted from 1.
    pub seq: u64,
    /// In which way.
    pub split: Split,
    /// Where the evidence was recorded. A ruling must have seen all of it.
    pub evidence: Vec<Place>,
}

/// In which way a place was written twice.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Split {
    /// Two entries claim it in the log itself: their hashes, sorted.
    Claimed(Vec<[u8; 32]>),
    /// A copied or restored home goes on from there in these logs of its own; if it is only one, the log itself goes on as well.
    Continued(Vec<LogId>),
}

/// The first entry of a log whose writer had seen something. It may have held it for longer, never for less.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sight {
    /// The entry's place in its log.
    pub seq: u64,
    /// Its stamp.
    pub stamp: Stamp,
}

/// The merged facts.
pub trait Facts {
    /// The facts filed under `subject` (see [`mentions`]), in the order of their places.
    fn about(&self, subject: &Subject) -> Vec<Arc<RecordedFact>>;
    /// Whether anything is filed under `subject`. An index need not read the facts for it.
    fn is_filed(&self, subject: &Subject) -> bool {
        !self.first_places(subject).is_empty()
    }
    /// Of each log the first place of a fact filed under `subject`: who had seen none of them had seen nothing about it. An index
    /// need not read the facts for it.
    fn first_places(&self, subject: &Subject) -> Vec<Place> {
        let mut places: Vec<Place> = self.about(subject).iter().map(|w| w.place).collect();
        places.dedup_by_key(|place| place.log);
        places
    }
    /// Every subject of `class` that something is filed under, sorted.
    fn subjects(&self, class: Class) -> Vec<Subject>;
    /// The texts of the subjects of `class` that are exactly one edit from `code`, sorted. An index may keep this
    /// ready ([`NearIndex`]); it may name subjects that hold no facts (any more), never leave one out.
    fn near(&self, class: Class, code: &str) -> Vec<String> {
        let subjects = self.subjects(class);
        let texts = subjects.iter().map(|s| s.text().into_owned());
        texts.filter(|text| is_near(code, text)).collect()
    }
    /// Those of [`Facts::near`] that a stock list names. Few codes of a long history are near listed ones, and many are near each
    /// other, so an index keeps these apart. It may name subjects that no list holds (any more), never leave one out.
    fn near_listed(&self, class: Class, code: &str) -> Vec<String> {
        self.near(class, code)
    }
    /// The forks that are known, sorted.
    fn forks(&self) -> Vec<Fork> {
        Vec::new()
    }
    /// The jobs that the entries of `log` from `from_seq` on record something on.
    fn jobs_in(&self, log: &LogId, from_seq: u64) -> BTreeSet<String> {
        let of_branch = |w: &Arc<RecordedFact>| w.place.log == *log && w.place.seq >= from_seq;
        let mut jobs = self.subjects(Class::Job);
        jobs.retain(|job| self.about(job).iter().any(of_branch));
        jobs.iter().map(|job| job.text().into_owned()).collect()
    }
    /// The first entry of `log` whose writer had seen `place` of another log. `None`: it never had, or that is not kept. Every
    /// entry counts, also one without facts. The answer about entries before a given fact never changes, so judging fact by
    /// fact and judging everything agree.
    fn first_sight(&self, _log: &LogId, _place: &Place) -> Option<Sight> {
        None
    }
}

/// Facts held in memory.
#[derive(Debug, Clone, Default)]
pub struct MemoryFacts {
    filed: BTreeMap<Subject, BTreeMap<Place, Arc<RecordedFact>>>,
    near: BTreeMap<Class, NearIndex>,
    /// Of the codes that stock lists name.
    near_listed: BTreeMap<Class, NearIndex>,
    all: BTreeMap<Place, Arc<RecordedFact>>,
    forks: Vec<Fork>,
    /// Per log, the entries at which something was newly seen, in order, with all that was seen by then.
    sights: BTreeMap<LogId, Vec<(Sight, Arc<VersionVector>)>>,
}

impl MemoryFacts {
    /// Holds `recorded_facts`, given in any order.
    pub fn new(recorded_facts: impl IntoIterator<Item = RecordedFact>) -> Self {
        let mut facts = Self::default();
        for recorded in recorded_facts {
            facts.insert(Arc::new(recorded));
        }
        facts
    }

    /// Adds one. A place that is known keeps its fact.
    pub fn insert(&mut self, recorded: Arc<RecordedFact>) {
        if self.all.contains_key(&recorded.place) {
            return;
        }
        for subject in mentions(&recorded.fact, &recorded.place.log.device) {
            if matches!(subject.class(), Class::Camera | Class::Tracker | Class::Code) {
                self.near.entry(subject.class()).or_default().insert(&subject.text());
                if recorded.is(&Kind::Stock) {
                    let listed = self.near_listed.entry(subject.class()).or_default();
                    listed.insert(&subject.text());
                }
            }
            let file = self.filed.entry(subject).or_default();
            file.insert(recorded.place, recorded.clone());
        }
        self.all.insert(recorded.place, recorded);
    }

    /// Notes a fork.
    pub fn note_fork(&mut self, fork: Fork) {
        self.forks.push(fork);
        self.forks.sort();
        self.forks.dedup();
    }

    /// Notes that the writer of `log` had `seen` this much of other logs at an entry. Entries come in any order.
    pub fn note_sight(&mut self, log: LogId, sight: Sight, seen: Arc<VersionVector>) {
        let sights = self.sights.entry(log).or_default();
        let at = sights.partition_point(|(known, _)| known.seq < sight.seq);
        if sights.get(at).is_none_or(|(known, _)| known.seq != sight.seq) {
            sights.insert(at, (sight, seen));
        }
    }

    /// All facts, in the order of their places.
    pub fn all(&self) -> impl Iterator<Item = &Arc<RecordedFact>> {
        self.all.values()
    }
}

impl Facts for MemoryFacts {
    fn about(&self, subject: &Subject) -> Vec<Arc<RecordedFact>> {
        self.filed
            .get(subject)
            .map(|file| file.values().cloned().collect())
            .unwrap_or_default()
    }

    fn first_places(&self, subject: &Subject) -> Vec<Place> {
        let Some(file) = self.filed.get(subject) else {
            return Vec::new();
        };
        let mut found: Vec<Place> = file.keys().next().copied().into_iter().collect();
        while let Some(last) = found.last() {
            // Lists hold thousands of facts of few logs: go from log to log.
            let end = Place {
                log: last.log,
                seq: u64::MAX,
                index: u32::MAX,
            };
            let Some((next, _)) = file.range((Bound::Excluded(end), Bound::Unbounded)).next() else {
                break;
            };
            found.push(*next);
        }
        found
    }

    fn subjects(&self, class: Class) -> Vec<Subject> {
        self.filed.keys().filter(|s| s.class() == class).cloned().collect()
    }

    fn near(&self, class: Class, code: &str) -> Vec<String> {
        self.near.get(&class).map(|index| index.near(code)).unwrap_or_default()
    }

    fn near_listed(&self, class: Class, code: &str) -> Vec<String> {
        let listed = self.near_listed.get(&class);
        listed.map(|index| index.near(code)).unwrap_or_default()
    }

    fn forks(&self) -> Vec<Fork> {
        self.forks.clone()
    }

    fn first_sight(&self, log: &LogId, place: &Place) -> Option<Sight> {
        let sights = self.sights.get(log)?;
        // What was seen never goes back.
        let first = sights.partition_point(|(_, seen)| !seen.includes(&place.log, place.seq));
        sights.get(first).map(|(sight, _)| *sight)
    }
}

#[cfg(test)]
mod tests {
    use gladhand_facts::DeviceKey;

    use super::*;

    fn log(n: u8) -> LogId {
        LogId {
            device: DeviceKey([n; 32]),
            incarnation: 1,
        }
    }

    fn place(n: u8, seq: u64) -> Place {
        Place {
            log: log(n),
            seq,
            index: 0,
        }
    }

    #[test]
    fn the_first_places_are_the_first_of_each_log() {
        let mut facts = MemoryFacts::default();
        for (n, seq) in [(3, 2), (1, 7), (3, 1), (1, 9), (2, 5)] {
            let line = format!(r#"{{"kind":"stock","camera":"C{n}{seq}","fleet":"Larkspur Freight"}}"#);
            facts.insert(Arc::new(RecordedFact {
                fact: gladhand_facts::Fact::from_line(&DeviceKey([n; 32]), &line).unwrap(),
                place: place(n, seq),
                stamp: Stamp::default(),
                seen: Arc::default(),
            }));
        }
        let list = Subject::list("camera", "Larkspur Freight");
        assert_eq!(facts.first_places(&list), [place(1, 7), place(2, 5), place(3, 1)]);
        assert!(facts.is_filed(&list) && !facts.is_filed(&Subject::list("tracker", "Larkspur Freight")));
    }

    #[test]
    fn a_sight_is_the_first_entry_that_had_seen_it() {
        let mut facts = MemoryFacts::default();
        let sight = |seq| Sight {
            seq,
            stamp: Stamp::default().tick(seq as i64),
        };
        for (seq, seen) in [(9, 6), (3, 2), (5, 4), (5, 1)] {
            facts.note_sight(log(1), sight(seq), Arc::new([(log(2), seen)].into_iter().collect()));
        }
        let found = |seq| facts.first_sight(&log(1), &place(2, seq)).map(|s| s.seq);
        assert_eq!(
            [1, 2, 3, 4, 5, 6, 7].map(found),
            [Some(3), Some(3), Some(5), Some(5), Some(9), Some(9), None]
        );
        assert_eq!(
            facts.first_sight(&log(1), &place(3, 1)),
            None,
            "it never heard of that log"
        );
        assert_eq!(
            facts.first_sight(&log(2), &place(1, 1)),
            None,
            "nobody kept what that log had seen"
        );
    }
}
