//! The jobs that the lines of a source name, and which of them nobody has opened; and the pairs that nobody has linked.
//!
//! Such a line is recorded all the same: another device may have opened the job, or a later line opens it.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::{Fact, Kind, code_key, name_key};
use gladhand_reconcile::{Facts, Subject};

use crate::error::NodeError;
use crate::indexed_facts::IndexedFacts;
use crate::node::Node;

/// See the module doc. Each job is looked up once.
#[derive(Default)]
pub(super) struct NamedJobs {
    known: BTreeSet<String>,
    /// The first line that names the job, and how it names it.
    unknown: BTreeMap<String, (u64, String)>,
}

impl NamedJobs {
    /// Notes the jobs of facts that are about to be recorded, each with the number of its line.
    pub(super) fn note<'f>(
        &mut self,
        node: &Node,
        facts: impl Iterator<Item = (u64, &'f Fact)>,
    ) -> Result<(), NodeError> {
        for (line, fact) in facts {
            let Some(job) = fact.text("job") else { continue };
            let key = name_key(&job);
            if self.known.contains(&key) {
                continue;
            }
            if *fact.kind() == Kind::Job || (!self.unknown.contains_key(&key) && is_opened(node, &job)?) {
                self.unknown.remove(&key);
                self.known.insert(key);
            } else {
                self.unknown.entry(key).or_insert((line, job.into_owned()));
            }
        }
        Ok(())
    }

    /// The jobs that nobody is known to have opened, with the first line that names each, in the order of the lines.
    pub(super) fn take_unknown(&mut self) -> BTreeSet<(u64, String)> {
        std::mem::take(&mut self.unknown).into_values().collect()
    }
}

fn is_opened(node: &Node, job: &str) -> Result<bool, NodeError> {
    let indexed = IndexedFacts::new(node);
    let about = indexed.about(&Subject::job(job));
    indexed.failure()?;
    Ok(about.iter().any(|recorded| recorded.is(&Kind::Job)))
}

/// Whether anybody is known to have linked the pair.
pub(super) fn was_linked(node: &Node, camera: &str, tracker: &str) -> Result<bool, NodeError> {
    let indexed = IndexedFacts::new(node);
    let about = indexed.about(&Subject::camera(camera));
    indexed.failure()?;
    let key = code_key(tracker);
    let links = about.iter().filter(|recorded| recorded.is(&Kind::Link));
    let mut trackers = links.filter_map(|link| link.fact.text("tracker"));
    Ok(trackers.any(|tracker| code_key(&tracker) == key))
}
