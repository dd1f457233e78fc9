//! The node as it was at one moment, to answer questions from while the node goes on.
//!
//! A snapshot shares the logs, the roster and the open files with its node until one of them grows, so taking one costs
//! microseconds, and asking it holds up nobody.
//!
//! Deliberately absent: writing. It gives out only what can be asked of a node that does not change.
//!
//! Invariant: everything that it tells is from the entries of its version vector; the index is cut down to them
//! ([`gladhand_store::Index::reader`]).

use std::ops::Deref;

use crate::error::NodeError;
use crate::node::Node;
use crate::progress::Silent;
use crate::wanted_pictures::WantedPictures;

/// See the module doc.
pub struct Snapshot(Node);

impl Deref for Snapshot {
    type Target = Node;

    fn deref(&self) -> &Node {
        &self.0
    }
}

impl Node {
    /// The same, with the index up to date.
    ///
    /// # Errors
    /// When journal or index cannot be read or written.
    pub fn fresh_snapshot(&mut self) -> Result<Snapshot, NodeError> {
        self.catch_up(&Silent)?;
        Ok(self.snapshot())
    }

    /// What this node is now.
    pub fn snapshot(&self) -> Snapshot {
        let vector = self.book.vector();
        Snapshot(Self {
            home: self.home.reader(),
            device: self.device,
            config: self.config.clone(),
            journal: self.journal.reader(),
            book: self.book.clone(),
            index: self.index.reader(vector),
            elsewhere: None,
            docs: Default::default(),
            damage: self.damage.clone(),
            notes: self.notes.clone(),
            due_incarnation: self.due_incarnation.clone(),
            environment: self.environment.clone(),
            wanted: WantedPictures {
                lacking: self.wanted.lacking.clone(),
                ..WantedPictures::default()
            },
            clock_notes: self.clock_notes.clone(),
            grown: tokio::sync::watch::Sender::new(0),
        })
    }
}

impl Snapshot {
    /// From now on it tells the findings that `node` keeps now. To be called when `node` keeps those as of the snapshot.
    pub(crate) fn take_findings_of(&mut self, node: &Node) {
        self.0.index = node.index.reader(self.0.book.vector());
    }

    /// Whether `node` still has the index that this was made of.
    pub(crate) fn has_the_index_of(&self, node: &Node) -> bool {
        self.0.index.edition() == node.index.edition()
    }
}
