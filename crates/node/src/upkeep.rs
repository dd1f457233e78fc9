//! Housekeeping of a daemon's node: flushing, freeing memory, and notes that last.

use gladhand_facts::{FactId, Place};

use crate::error::NodeError;
use crate::node::Node;
use crate::progress::Silent;

impl Node {
    /// Brings the index up to date, and makes it durable. [`Node::close`] makes it durable at the end.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn flush(&mut self) -> Result<(), NodeError> {
        self.catch_up(&Silent)?;
        Ok(self.index.flush()?)
    }

    /// Frees the documents that are only kept for the next fact, so that an idle daemon needs little memory.
    pub fn rest(&mut self) {
        self.docs.clear();
    }

    /// Lets the index rest until it is asked again. Its library keeps memory for nothing.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn rest_index(&mut self) -> Result<(), NodeError> {
        Ok(self.index.rest()?)
    }

    /// How many documents are in memory. They and the book are what a node's memory goes into.
    pub fn documents_at_hand(&self) -> usize {
        self.docs.len()
    }

    /// Where this device has recorded a fact, if it has.
    ///
    /// # Errors
    /// When the index cannot be read.
    pub fn recorded(&self, fact: &FactId) -> Result<Option<Place>, NodeError> {
        Ok(self.index.fact(fact)?)
    }

    /// The notes that stay true. A note about a broken index is left out: the index was made anew when the home was opened.
    pub fn lasting_notes(&self) -> impl Iterator<Item = &String> {
        self.notes.iter().filter(|note| !note.starts_with("the index was"))
    }
}
