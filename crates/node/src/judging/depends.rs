//! What the kept findings depend on besides facts, as the index notes it beside them.
//!
//! ```text
//! JSON: rules   edition of the rules and work standard, as a hash
//!       forks   the known forks, as a hash
//!       upto    the position in the journal up to which everything is judged
//!       vector  the entries that were held then
//!       cut     of logs of which not everything counted: the last entry that did
//! ```
//!
//! The clocks of then are not stored: readings, sticks and all else that they follow from stand in entries, so they are made again from
//! those of the vector.

use gladhand_facts::{LogId, VersionVector};
use gladhand_reconcile::{Clocks, Fork};
use gladhand_store::Position;
use serde::{Deserialize, Serialize};

use crate::error::NodeError;
use crate::in_force::clocks_of;
use crate::indexed_facts::IndexedFacts;
use crate::node::Node;

/// See the module doc.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Depends {
    pub(super) rules: String,
    pub(super) forks: String,
    upto: (u32, u32),
    vector: String,
    cut: Vec<(String, u64)>,
}

impl Depends {
    pub(super) fn encode(&self) -> Result<Vec<u8>, NodeError> {
        serde_json::to_vec(self).map_err(|source| NodeError::Encode {
            what: "what was judged",
            source,
        })
    }

    /// `None` when it was written by another version.
    fn decode(json: &[u8]) -> Option<Self> {
        serde_json::from_slice(json).ok()
    }

    pub(super) fn upto(&self) -> Position {
        Position {
            segment: self.upto.0,
            offset: self.upto.1,
        }
    }

    /// The entries that were held; `None` when that does not read.
    pub(super) fn vector(&self) -> Option<VersionVector> {
        self.vector.parse().ok()
    }

    /// The logs of which not everything counted.
    pub(super) fn cut(&self) -> impl Iterator<Item = (LogId, u64)> + '_ {
        self.cut
            .iter()
            .filter_map(|(log, last)| Some((log.parse().ok()?, *last)))
    }

    /// The last entry of a log that counted.
    pub(super) fn last_counted(&self, log: &LogId) -> u64 {
        let found = self.cut().find(|(cut, _)| cut == log);
        found.map_or(u64::MAX, |(_, last)| last)
    }
}

impl Node {
    /// What findings depend on now.
    pub(super) fn depends(&self) -> Depends {
        let (vector, counting) = (self.book.vector(), self.book.counting());
        let cut = vector.iter().filter(|(log, head)| counting.get(log) < *head);
        let end = self.journal.end();
        Depends {
            rules: self.rules_hash(),
            forks: hash_of_forks(&IndexedFacts::new(self).known_forks()),
            upto: (end.segment, end.offset),
            cut: cut.map(|(log, _)| (log.to_string(), counting.get(&log))).collect(),
            vector: vector.to_string(),
        }
    }

    fn rules_hash(&self) -> String {
        let mut hasher = blake3::Hasher::new();
        hasher.update(&gladhand_reconcile::rules::EDITION.to_le_bytes());
        // The built-in standard may differ between versions of this program.
        let standard = self.book.roster().standard();
        let standard = standard.map_or_else(|| env!("CARGO_PKG_VERSION").to_owned(), |(_, text)| text.to_owned());
        hasher.update(standard.as_bytes());
        hasher.finalize().to_hex().to_string()
    }

    /// What the kept findings depended on; `None` when nothing is judged yet.
    pub(super) fn depended(&self) -> Result<Option<Depends>, NodeError> {
        let state = self.judged_state()?;
        Ok(state.and_then(|json| Depends::decode(&json)))
    }

    /// Whether the kept findings are those of now.
    ///
    /// # Errors
    /// When the index cannot be read.
    pub fn is_judged(&self) -> Result<bool, NodeError> {
        Ok(self.depended()?.as_ref() == Some(&self.depends()))
    }

    /// The clocks as far as they were known by the entries that `then` tells.
    pub(super) fn clocks_then(&self, then: &Depends, held: &VersionVector) -> Clocks {
        let roster = self.book.roster();
        let cut: std::collections::BTreeMap<LogId, u64> = then.cut().collect();
        let counted = |log: &LogId, seq: u64| held.includes(log, seq) && cut.get(log).is_none_or(|last| seq <= *last);
        let logs = self.log_times(roster, held, &counted);
        clocks_of(roster, &self.standard(), &counted, logs)
    }
}

fn hash_of_forks(forks: &[Fork]) -> String {
    let mut hasher = blake3::Hasher::new();
    for fork in forks {
        hasher.update(format!("{fork:?}").as_bytes());
    }
    hasher.finalize().to_hex().to_string()
}
