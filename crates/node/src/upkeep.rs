//! What a daemon asks of its node besides what commands do.

use gladhand_facts::{FactId, Place};

use crate::error::NodeError;
use crate::node::Node;
use crate::progress::Silent;

impl Node {
    /// Lets the index follow if it could not before, and makes it durable. [`Node::close`] does the same at the end.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn flush(&mut self) -> Result<(), NodeError> {
        self.catch_up(&Silent)?;
        Ok(self.index.flush()?)
    }

    /// Lets go of what is only at hand for the next fact: a daemon with nothing to do needs little memory.
    pub fn rest(&mut self) {
        self.docs.clear();
    }

    /// How many documents are at hand, whether they rest or not: what memory beside the book goes into.
    pub fn documents_at_hand(&self) -> usize {
        self.docs.len()
    }

    /// Where this device has recorded a fact, if it has.
    ///
    /// # Errors
    /// When the index cannot be read.
    pub fn recorded(&self, fact: &FactId) -> Result<Option<Place>, NodeError> {
        Ok(self.index.own_fact(fact)?)
    }

    /// What every command should tell as long as it is so. What opening the home mended is told once, by whoever opened it.
    pub fn lasting_notes(&self) -> impl Iterator<Item = &String> {
        self.notes.iter().filter(|note| !note.starts_with("the index was"))
    }
}
