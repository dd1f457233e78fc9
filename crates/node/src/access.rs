//! The node in short turns: others get theirs while its user waits for a person, a pipe or a network.

use crate::error::NodeError;
use crate::handle::{Closed, NodeHandle};
use crate::node::Node;

enum Holder {
    /// A node of our own, in a home that no daemon has open.
    Own(Box<Node>),
    /// The daemon's.
    Daemon(NodeHandle),
}

/// The node, taken for one turn at a time.
pub struct NodeAccess(Holder);

impl NodeAccess {
    /// A node of our own.
    pub fn own(node: Node) -> Self {
        Self(Holder::Own(Box::new(node)))
    }

    /// The daemon's node.
    pub fn of(handle: NodeHandle) -> Self {
        Self(Holder::Daemon(handle))
    }

    /// One turn.
    ///
    /// # Errors
    /// When the daemon's node cannot be asked any more.
    pub fn with<T>(&mut self, turn: impl FnOnce(&mut Node) -> T) -> Result<T, Closed> {
        match &mut self.0 {
            Holder::Own(node) => Ok(turn(node)),
            Holder::Daemon(handle) => Ok(turn(&mut *handle.lend()?)),
        }
    }

    /// Done with the node: our own is flushed and closed, the daemon's goes on.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn close(self) -> Result<(), NodeError> {
        match self.0 {
            Holder::Own(node) => node.close(),
            Holder::Daemon(_) => Ok(()),
        }
    }
}
