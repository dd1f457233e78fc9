//! What the index keeps of findings.
//!
//! ```text
//! F subject               its findings, as JSON; none: no row
//! I finding id            the key of its subject
//! T touched, subject      nothing: `subject` has a finding that touches the job or trailer `touched`
//! J                       up to which position everything is judged, and what that depended on
//! ```
//!
//! Invariant: rows I and T are those of the rows F, after everything was judged at once; later an I row of a finding that is no more
//! may stay, so that a ruling on it still finds its subject.

use std::collections::BTreeSet;

use gladhand_reconcile::{Finding, Subject, judge};
use gladhand_store::IndexBatch;

use crate::elsewhere::is_refused;
use crate::error::NodeError;
use crate::node::Node;
use crate::progress::Silent;

/// Before a subject's key: its findings.
const FINDINGS: u8 = b'F';
/// Before a finding's id: its subject's key.
const SUBJECT_OF: u8 = b'I';
/// Before the keys of a job or trailer and of a subject.
const TOUCHED: u8 = b'T';
/// In the place of a job or trailer: the subject has a finding that touches no job. No class of subjects has this tag.
const NO_JOB: &[u8] = &[0];
/// See `depends`.
const JUDGED: &[u8] = b"J";

/// A key of the index, and what is put there.
pub(crate) type Row = (Vec<u8>, Option<Vec<u8>>);

/// Rows that belong together.
pub(crate) type Part = Vec<Row>;

impl Node {
    /// The findings that are kept, in the order of the rules: those as of the last judging.
    ///
    /// # Errors
    /// When the index cannot be read.
    pub fn kept_findings(&self) -> Result<Vec<Finding>, NodeError> {
        let mut found = Vec::new();
        for row in self.index.values(&[FINDINGS]) {
            let (_, json) = row?;
            found.extend(self.read_findings(&json)?);
        }
        judge::sort(&mut found);
        Ok(found)
    }

    /// The kept findings that touch one of these jobs or trailers, by their keys, in the order of the rules.
    ///
    /// # Errors
    /// When the index cannot be read.
    pub fn kept_findings_touching<'k>(
        &self,
        jobs: impl IntoIterator<Item = &'k str>,
        trailers: impl IntoIterator<Item = &'k str>,
    ) -> Result<Vec<Finding>, NodeError> {
        let jobs = jobs.into_iter().map(|job| Subject::Job(job.to_owned()));
        let trailers = trailers.into_iter().map(|t| Subject::Trailer(t.to_owned()));
        self.kept_under(jobs.chain(trailers).map(|touched| touched.to_key()))
    }

    /// The kept findings that touch one of these jobs or trailers, or no job at all.
    pub(crate) fn kept_findings_for(
        &self,
        jobs: &BTreeSet<Subject>,
        trailers: &BTreeSet<Subject>,
    ) -> Result<Vec<Finding>, NodeError> {
        let touched = jobs.iter().chain(trailers).map(Subject::to_key);
        self.kept_under(touched.chain([NO_JOB.to_vec()]))
    }

    fn kept_under(&self, touched: impl Iterator<Item = Vec<u8>>) -> Result<Vec<Finding>, NodeError> {
        let mut subjects = BTreeSet::new();
        for touched in touched {
            let prefix = tagged(TOUCHED, &touched);
            for row in self.index.values(&prefix) {
                let (key, _) = row?;
                subjects.extend(key.strip_prefix(prefix.as_slice()).map(<[u8]>::to_vec));
            }
        }
        let mut found = Vec::new();
        for subject in subjects {
            found.extend(self.kept_on(&subject)?);
        }
        judge::sort(&mut found);
        Ok(found)
    }

    fn kept_on(&self, subject_key: &[u8]) -> Result<Vec<Finding>, NodeError> {
        let json = self.index.value(&tagged(FINDINGS, subject_key))?;
        json.map_or_else(|| Ok(Vec::new()), |json| self.read_findings(&json))
    }

    fn read_findings(&self, json: &[u8]) -> Result<Vec<Finding>, NodeError> {
        serde_json::from_slice(json).map_err(|_| self.broken("findings do not read"))
    }

    /// The subject of a finding that is kept here.
    ///
    /// # Errors
    /// When the index cannot be read.
    pub fn subject_of(&self, finding: &str) -> Result<Option<Subject>, NodeError> {
        let key = self.index.value(&tagged(SUBJECT_OF, finding.as_bytes()))?;
        Ok(key.and_then(|k| Subject::from_key(&k)).map(|(subject, _)| subject))
    }

    /// The ids of the findings that are kept here, and of those that are no more.
    ///
    /// # Errors
    /// When the index cannot be read.
    pub fn finding_ids(&self) -> Result<Vec<String>, NodeError> {
        let mut ids = Vec::new();
        for row in self.index.values(&[SUBJECT_OF]) {
            let (key, _) = row?;
            ids.push(String::from_utf8_lossy(key.get(1..).unwrap_or_default()).into_owned());
        }
        Ok(ids)
    }

    /// The rows that say that `findings` are all that there is on a subject. None where that is known.
    pub(super) fn rows_of(&self, subject: &Subject, findings: &[Finding]) -> Result<Part, NodeError> {
        let key = subject.to_key();
        let before = self.kept_on(&key)?;
        if before == findings {
            return Ok(Vec::new());
        }
        let mut rows = Vec::new();
        let (was, is) = (touched(&before), touched(findings));
        let row_of = |touched: &Vec<u8>| [tagged(TOUCHED, touched), key.clone()].concat();
        rows.extend(was.difference(&is).map(|touched| (row_of(touched), None)));
        rows.extend(is.difference(&was).map(|touched| (row_of(touched), Some(Vec::new()))));
        for finding in findings {
            rows.push((tagged(SUBJECT_OF, finding.id.as_bytes()), Some(key.clone())));
        }
        let json = (!findings.is_empty()).then(|| encoded(findings)).transpose()?;
        rows.push((tagged(FINDINGS, &key), json));
        Ok(rows)
    }

    /// The subjects that have kept findings.
    pub(super) fn subjects_with_findings(&self) -> Result<BTreeSet<Subject>, NodeError> {
        let mut found = BTreeSet::new();
        for row in self.index.values(&[FINDINGS]) {
            let (key, _) = row?;
            let subject = key.get(1..).and_then(Subject::from_key);
            found.extend(subject.map(|(subject, _)| subject));
        }
        Ok(found)
    }

    /// The ids of findings of which a subject is noted, with the rows that forget them.
    pub(super) fn forget_except(&self, ids: &BTreeSet<String>) -> Result<Part, NodeError> {
        let mut rows = Vec::new();
        for row in self.index.values(&[SUBJECT_OF]) {
            let (key, _) = row?;
            let id = key.get(1..).unwrap_or_default();
            let is_there = std::str::from_utf8(id).is_ok_and(|id| ids.contains(id));
            if !is_there {
                rows.push((key, None));
            }
        }
        Ok(rows)
    }

    /// What was noted of the last judging.
    pub(super) fn judged_state(&self) -> Result<Option<Vec<u8>>, NodeError> {
        Ok(self.index.value(JUDGED)?)
    }

    /// Writes rows into the index.
    pub(crate) fn keep(&mut self, part: Part) -> Result<(), NodeError> {
        if part.is_empty() {
            return Ok(());
        }
        let upto = self.index.applied();
        let fingerprint = self.fingerprint(upto)?;
        let batch = IndexBatch {
            values: part,
            ..IndexBatch::new(upto, fingerprint)
        };
        match self.index.apply(batch).map_err(NodeError::from) {
            Err(refused) if is_refused(&refused) => {
                self.take_the_index_elsewhere(refused)?;
                self.catch_up(&Silent)?;
                Err(NodeError::IndexRenewed)
            }
            other => other,
        }
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

/// The row that notes a judging.
pub(super) fn judged_row(state: Vec<u8>) -> Row {
    (JUDGED.to_vec(), Some(state))
}

fn tagged(tag: u8, key: &[u8]) -> Vec<u8> {
    [&[tag], key].concat()
}

/// The keys of the jobs and trailers that findings touch.
fn touched(findings: &[Finding]) -> BTreeSet<Vec<u8>> {
    let jobs = findings.iter().flat_map(|f| &f.jobs).cloned().map(Subject::Job);
    let trailers = findings.iter().flat_map(|f| &f.trailers).cloned().map(Subject::Trailer);
    let jobless = findings.iter().filter(|f| f.jobs.is_empty()).map(|_| NO_JOB.to_vec());
    let touched = jobs.chain(trailers).map(|subject| subject.to_key());
    touched.chain(jobless).collect()
}

fn encoded(findings: &[Finding]) -> Result<Vec<u8>, NodeError> {
    serde_json::to_vec(findings).map_err(|source| NodeError::Encode {
        what: "a finding",
        source,
    })
}
