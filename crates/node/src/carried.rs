//! Bundles measure clocks: the writer's time stands in the bundle, and the reader's in its next entry.
//!
//! Reading a bundle writes nothing into the log, so that two nodes which exchange bundles hold the same afterwards. What was read when
//! is kept in a file of the home and recorded with the next entry that this device writes anyway, or before it writes a bundle of its
//! own.
//!
//! Deliberately not durable: if the file is lost, a measurement is lost, and nothing else.

use std::path::PathBuf;

use gladhand_logbook::Body;
use gladhand_logbook::bundle::Header;
use gladhand_logbook::governance::Record as Rule;

use crate::error::NodeError;
use crate::node::Node;
use crate::open::governance;

impl Node {
    fn bundles_read(&self) -> PathBuf {
        self.home.layout().path().join("bundles-read.json")
    }

    /// Notes when a bundle was read that is whole, if it is newer than the last one of its writer.
    pub(crate) fn note_bundle_read(&self, header: &Header) {
        let Some(written) = header.written.filter(|w| w.log.device == header.writer) else {
            return;
        };
        let carried = Rule::Carried {
            writer: written.log.to_string(),
            head: written.head,
            written_us: written.at_us,
            read_us: self.environment.now_us(),
        };
        if header.writer == self.device() || self.knows_carried(&carried) {
            return;
        }
        let mut waiting = self.waiting_records();
        waiting.retain(|other| writer_of(other) != writer_of(&carried));
        waiting.push(carried);
        let kept = serde_json::to_vec(&waiting).map(|json| std::fs::write(self.bundles_read(), json));
        if !matches!(kept, Ok(Ok(()))) {
            tracing::warn!("when the bundle was read could not be kept; it measures no clock");
        }
    }

    /// What waits for the next own entry. A file that cannot be read holds nothing.
    fn waiting_records(&self) -> Vec<Rule> {
        let bytes = std::fs::read(self.bundles_read()).unwrap_or_default();
        let mut waiting: Vec<Rule> = serde_json::from_slice(&bytes).unwrap_or_default();
        waiting.retain(|rule| matches!(rule, Rule::Carried { .. }) && !self.knows_carried(rule));
        waiting
    }

    /// Whether this device has recorded that it read this bundle, or a later one of the same writer.
    fn knows_carried(&self, rule: &Rule) -> bool {
        let Rule::Carried { writer, written_us, .. } = rule else {
            return true;
        };
        let own = self.device();
        let mut recorded = self.book.roster().carried();
        recorded.any(|(log, _, known)| {
            log.device == own && known.writer.to_string() == *writer && known.written_us >= *written_us
        })
    }

    /// The bodies that go with the next own entries.
    pub(crate) fn waiting_bodies(&self) -> Result<Vec<Body>, NodeError> {
        let waiting = self.waiting_records();
        Ok(waiting.iter().map(governance).collect::<Result<_, _>>()?)
    }

    /// Forgets what waited, once it is recorded. If the file stays, what it holds is known.
    pub(crate) fn forget_waiting(&self) {
        std::fs::remove_file(self.bundles_read()).ok();
    }

    /// Records when bundles were read, if that waits: before a bundle is written that others are to learn it from.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn record_bundles_read(&mut self) -> Result<(), NodeError> {
        if self.waiting_records().is_empty() {
            Ok(())
        } else {
            self.govern(Vec::new())
        }
    }
}

fn writer_of(rule: &Rule) -> Option<&str> {
    match rule {
        Rule::Carried { writer, .. } => Some(writer),
        _ => None,
    }
}
