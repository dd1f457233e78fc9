//! Incremental judging: findings are kept in the index, and only the subjects that new facts touch are judged again.
//!
//! The index holds the findings of each subject that has any, the subject of each finding id, the position in the journal up to
//! which everything is judged, and a hash of what findings depend on besides facts: the edition of the rules, the work standard,
//! retirements, forks, clock readings, sticks that were carried, clocks read off by hand, and where logs show that a clock was set
//! back. When that hash changes everything is judged again.
//!
//! What the depot's entries enclose narrows the time of a fact twice: what its recorder had seen is known with it, and the depot's
//! first entry that had seen it comes later. So an entry of the depot also touches what it has newly seen, and nothing else.
//!
//! Deliberately not part of the hash: names of devices. They are added when a finding is put into words.
//!
//! Invariant: the kept findings equal those of judging everything in memory, which a test checks.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::LogId;
use gladhand_reconcile::{Class, Facts, Finding, Subject, World, judge, judge_subject, touched_by};
use gladhand_store::{IndexBatch, Position, RecordKind};

use crate::error::NodeError;
use crate::indexed_facts::IndexedFacts;
use crate::node::Node;

/// Before a subject's key: its findings, as JSON.
const FINDINGS: u8 = b'F';
/// Before a finding's id: its subject's key.
const SUBJECT_OF: u8 = b'I';
/// The position up to which everything is judged, and the hash of what it depended on.
const JUDGED: &[u8] = b"J";
/// With more new entries than this all subjects are judged, which is cheaper than finding those that are touched.
const MAX_NEW_ENTRIES: usize = 20_000;
/// With more subjects than this, reading all facts into memory is faster than the index.
const MANY_SUBJECTS: usize = 500;
/// The most entries that are read into memory for judging, at about a kilobyte each. Beyond that it is not faster than the index.
pub(crate) const MAX_IN_MEMORY: u64 = 30_000;
/// How many subjects are written to the index in one batch.
const SUBJECTS_PER_BATCH: usize = 1_000;

type BySubject = BTreeMap<Subject, Vec<Finding>>;

impl Node {
    /// All findings, in the order of the rules.
    ///
    /// # Errors
    /// When journal or index cannot be read.
    pub fn findings(&mut self) -> Result<Vec<Finding>, NodeError> {
        self.judge()?;
        let mut found = Vec::new();
        for row in self.index.values(&[FINDINGS]) {
            let (_, json) = row?;
            let here: Vec<Finding> = serde_json::from_slice(&json).map_err(|_| self.broken("findings do not read"))?;
            found.extend(here);
        }
        judge::sort(&mut found);
        Ok(found)
    }

    /// Judges what is new since the last call.
    ///
    /// # Errors
    /// When journal or index cannot be read or written.
    pub fn judge(&mut self) -> Result<(), NodeError> {
        self.catch_up(&crate::progress::Silent)?;
        let depends = self.depends_on();
        let end = self.journal.end();
        let state = judged_state(end, &depends);
        let before = self.index.value(JUDGED)?;
        if before.as_ref() == Some(&state) {
            return Ok(());
        }
        let since = before.and_then(|b| judged_since(&b, &depends));
        let todo = match since {
            Some(since) => self.touched_since(since)?,
            None => None,
        };
        match todo {
            Some(subjects) => self.judge_these(subjects, &[])?,
            None => self.judge_everything()?,
        }
        self.put(vec![(JUDGED.to_vec(), Some(state))])
    }

    /// A hash of what findings depend on besides facts.
    fn depends_on(&self) -> [u8; 32] {
        let roster = self.book.roster();
        let mut hasher = blake3::Hasher::new();
        hasher.update(&gladhand_reconcile::rules::EDITION.to_le_bytes());
        for (log, _) in self.book.vector().iter() {
            hasher.update(&log.device.0);
            if let Some(cut) = roster.retired(&log.device) {
                hasher.update(cut.to_string().as_bytes());
            }
            hasher.update(&[u8::from(roster.admits(&log.device).is_ok())]);
        }
        for fork in IndexedFacts::new(self).forks() {
            hasher.update(format!("{fork:?}").as_bytes());
        }
        let clocks = self.clocks();
        for reading in clocks.readings() {
            hasher.update(format!("{reading:?}").as_bytes());
        }
        hasher.update(format!("{:?}", clocks.measures()).as_bytes());
        // The built-in standard may differ between versions of this program.
        let standard = roster
            .standard()
            .map_or_else(|| env!("CARGO_PKG_VERSION").to_owned(), |(_, text)| text.to_owned());
        *hasher.update(standard.as_bytes()).finalize().as_bytes()
    }

    /// The subjects that entries after `since` touch; `None` when there are so many entries that all are judged.
    fn touched_since(&self, since: Position) -> Result<Option<BTreeSet<Subject>>, NodeError> {
        let mut entries = BTreeSet::new();
        for batch in self.journal.scan_from(since) {
            let batch = batch?;
            for record in batch.records().filter(|r| r.kind == RecordKind::Entry) {
                entries.insert((record.log, record.seq));
                entries.extend(self.newly_enclosed(&record.log, record.seq));
                if entries.len() > MAX_NEW_ENTRIES {
                    return Ok(None);
                }
            }
        }
        let (standard, clocks, indexed) = (self.standard(), self.clocks(), IndexedFacts::new(self));
        let world = World {
            facts: &indexed,
            standard: &standard,
            clocks: &clocks,
        };
        // A failure counts as unknown here; the index reports it again when the findings are read.
        let subject_of = |id: &str| self.subject_of(id).ok().flatten();
        let mut subjects: BTreeSet<Subject> = self.odd_devices().into_iter().map(Subject::Device).collect();
        let mut news = Vec::new();
        for (log, seq) in entries {
            news.extend(indexed.entry(&log, seq)?.iter().cloned());
        }
        subjects.extend(touched_by(&world, &news, &subject_of));
        indexed.failure()?;
        Ok(Some(subjects))
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
        entries
            .take(MAX_NEW_ENTRIES + 1)
            .filter(|(other, seq)| holds(other, *seq))
            .collect()
    }

    /// The subject of a finding that is kept here.
    ///
    /// # Errors
    /// When the index cannot be read.
    pub fn subject_of(&self, finding: &str) -> Result<Option<Subject>, NodeError> {
        let key = self.index.value(&subject_key(finding))?;
        Ok(key.and_then(|k| Subject::from_key(&k)).map(|(subject, _)| subject))
    }

    fn judge_everything(&mut self) -> Result<(), NodeError> {
        let (standard, clocks, indexed) = (self.standard(), self.clocks(), IndexedFacts::new(self));
        let world = World {
            facts: &indexed,
            standard: &standard,
            clocks: &clocks,
        };
        let subjects: BTreeSet<Subject> = Class::ALL
            .into_iter()
            .flat_map(|c| judge::candidates(&world, c))
            .collect();
        indexed.failure()?;
        let mut stale = Vec::new();
        for prefix in [FINDINGS, SUBJECT_OF] {
            for row in self.index.values(&[prefix]) {
                stale.push((row?.0, None));
            }
        }
        self.judge_these(subjects, &stale)
    }

    fn judge_these(
        &mut self,
        subjects: BTreeSet<Subject>,
        stale: &[(Vec<u8>, Option<Vec<u8>>)],
    ) -> Result<(), NodeError> {
        let mut values = stale.to_vec();
        let judged = self.judged(&subjects)?;
        for (n, (subject, findings)) in judged.iter().enumerate() {
            let key = subject.to_key();
            for finding in findings {
                values.push((subject_key(&finding.id), Some(key.clone())));
            }
            let json = (!findings.is_empty()).then(|| encoded(findings)).transpose()?;
            values.push((findings_key(&key), json));
            if n % SUBJECTS_PER_BATCH == SUBJECTS_PER_BATCH - 1 {
                self.put(std::mem::take(&mut values))?;
            }
        }
        self.put(values)
    }

    /// Judges many subjects over all facts in memory, if they fit; otherwise through the index.
    fn judged(&self, subjects: &BTreeSet<Subject>) -> Result<BySubject, NodeError> {
        if subjects.len() > MANY_SUBJECTS && self.book.vector().entries() <= MAX_IN_MEMORY {
            return self.judged_over(&self.all_facts()?, subjects);
        }
        let indexed = IndexedFacts::new(self);
        let found = self.judged_over(&indexed, subjects)?;
        indexed.failure()?;
        Ok(found)
    }

    /// Judges subjects over `facts`. Returns those that have findings, or had some that must be removed.
    fn judged_over(&self, facts: &dyn Facts, subjects: &BTreeSet<Subject>) -> Result<BySubject, NodeError> {
        let (standard, clocks) = (self.standard(), self.clocks());
        let world = World {
            facts,
            standard: &standard,
            clocks: &clocks,
        };
        let mut found = BySubject::new();
        for subject in subjects {
            let findings = judge_subject(&world, subject);
            if !findings.is_empty() || self.index.value(&findings_key(&subject.to_key()))?.is_some() {
                found.insert(subject.clone(), findings);
            }
        }
        Ok(found)
    }

    fn put(&mut self, values: Vec<(Vec<u8>, Option<Vec<u8>>)>) -> Result<(), NodeError> {
        let upto = self.index.applied();
        let fingerprint = self.fingerprint(upto)?;
        let batch = IndexBatch {
            values,
            ..IndexBatch::new(upto, fingerprint)
        };
        Ok(self.index.apply(batch)?)
    }

    /// The error for content of the index that cannot be read; `verify --rebuild` mends it.
    pub(crate) fn broken(&self, why: &str) -> NodeError {
        let dir = self.home.layout().index();
        gladhand_store::IndexError::Broken {
            dir,
            why: why.to_owned(),
        }
        .into()
    }
}

fn subject_key(finding: &str) -> Vec<u8> {
    let mut key = vec![SUBJECT_OF];
    key.extend_from_slice(finding.as_bytes());
    key
}

fn findings_key(subject: &[u8]) -> Vec<u8> {
    let mut key = vec![FINDINGS];
    key.extend_from_slice(subject);
    key
}

fn judged_state(upto: Position, depends: &[u8; 32]) -> Vec<u8> {
    let mut state = depends.to_vec();
    state.extend_from_slice(&upto.segment.to_be_bytes());
    state.extend_from_slice(&upto.offset.to_be_bytes());
    state
}

/// The position up to which everything is judged, if what findings depend on is still the same.
fn judged_since(state: &[u8], depends: &[u8; 32]) -> Option<Position> {
    let rest = state.strip_prefix(depends.as_slice())?;
    let (segment, offset) = rest.split_first_chunk::<4>()?;
    let offset = offset.first_chunk::<4>()?;
    Some(Position {
        segment: u32::from_be_bytes(*segment),
        offset: u32::from_be_bytes(*offset),
    })
}

fn encoded(findings: &[Finding]) -> Result<Vec<u8>, NodeError> {
    serde_json::to_vec(findings).map_err(|source| NodeError::Encode {
        what: "a finding",
        source,
    })
}
