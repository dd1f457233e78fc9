//! Each job as a standard Automerge document, with a list of what the documents hold.
//!
//! Where the documents go is the caller's business: each is handed over as soon as it is made, so that only one is in
//! memory at a time.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_logbook::jobdoc::JobDoc;
use gladhand_node::{IndexedFacts, Node};
use gladhand_reconcile::{Class, Facts};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::error::AnswerError;

/// The file beside the documents that lists them.
pub const LIST: &str = "jobs.json";
/// A file's name holds so much of a job's name.
const NAME_CHARS: usize = 60;

/// Documents that were written into a folder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Exported {
    /// The folder, as it was named.
    pub folder: String,
    /// One for each job, in the order of the jobs' names. The folder's `jobs.json` holds the same list.
    pub documents: Vec<Document>,
    /// Entries that no document holds.
    pub left_out: Vec<LeftOut>,
}

/// One job's document.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Document {
    /// Facts in it.
    pub facts: u64,
    /// The job's fields: each name with all its concurrent values.
    pub fields: BTreeMap<String, Vec<Value>>,
    /// The name of its file in the folder.
    pub file: String,
    /// The hashes of the document's newest changes, sorted, in hexadecimal digits.
    pub heads: Vec<String>,
    /// The job.
    pub job: String,
}

/// An entry that does not fit its job's document.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct LeftOut {
    /// The job.
    pub job: String,
    /// The log that the entry stands in.
    pub log: String,
    /// Its number there.
    pub seq: u64,
    /// Why it does not fit, in words.
    pub why: String,
}

/// Makes the document of each job, and hands it to `keep` with the name of its file.
///
/// # Errors
/// When the store cannot be read, and what `keep` returns.
pub fn exported<E: From<AnswerError>>(
    node: &Node,
    folder: &str,
    mut keep: impl FnMut(&str, &[u8]) -> Result<(), E>,
) -> Result<Exported, E> {
    let mut out = Exported {
        folder: folder.to_owned(),
        documents: Vec::new(),
        left_out: Vec::new(),
    };
    for (index, job) in jobs(node)?.into_iter().enumerate() {
        let mut doc = node.load_doc(&job).map_err(AnswerError::from)?;
        let file = format!("{:05}-{}.automerge", index + 1, tame(&job));
        let bytes = doc.save().map_err(|source| AnswerError::Document {
            job: job.clone(),
            source,
        })?;
        keep(&file, &bytes)?;
        out.left_out.extend(left_out(&job, &doc));
        out.documents.push(document(job, file, &mut doc)?);
    }
    Ok(out)
}

fn jobs(node: &Node) -> Result<Vec<String>, AnswerError> {
    let indexed = IndexedFacts::new(node);
    // A document is kept under the name as it was written; one job may have been written in several ways.
    let about = indexed
        .subjects(Class::Job)
        .into_iter()
        .flat_map(|job| indexed.about(&job));
    let names: BTreeSet<String> = about.filter_map(|w| w.owned("job")).collect();
    indexed.failure()?;
    Ok(names.into_iter().collect())
}

fn left_out(job: &str, doc: &JobDoc) -> Vec<LeftOut> {
    let left_out = doc.set_aside().iter().map(|((log, seq), why)| LeftOut {
        job: job.to_owned(),
        log: log.to_string(),
        seq: *seq,
        why: why.to_string(),
    });
    left_out.collect()
}

fn document(job: String, file: String, doc: &mut JobDoc) -> Result<Document, AnswerError> {
    let values = |values: Vec<(Value, _)>| values.into_iter().map(|(value, _)| value).collect();
    let fields = doc.field_values().map_err(|source| AnswerError::Document {
        job: job.clone(),
        source,
    })?;
    let fields = fields.into_iter();
    Ok(Document {
        facts: doc.fact_texts().len() as u64,
        fields: fields.map(|(field, all)| (field, values(all))).collect(),
        file,
        heads: doc.heads(),
        job,
    })
}

/// A job's name as a part of a file name.
fn tame(job: &str) -> String {
    let is_safe = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
    let safe = job.chars().map(|c| if is_safe(c) { c } else { '_' });
    safe.take(NAME_CHARS).collect()
}

#[cfg(test)]
#[path = "exported_tests.rs"]
mod tests;
