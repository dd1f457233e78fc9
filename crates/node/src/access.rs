//! Access to the node for one operation at a time, no matter whether this process opened the home or a daemon has it.
//!
//! Between two operations others may use the node, so a command does not block them while it waits for a person, a pipe or a
//! network.
//!
//! Deliberately not a lock that can be held: a turn is a closure and ends with it.

use crate::error::NodeError;
use crate::handle::{Closed, NodeHandle};
use crate::node::Node;

enum Holder {
    /// A node that this process opened, in a home that no daemon has open.
    Own(Box<Node>),
    /// The daemon's node.
    Daemon(NodeHandle),
}

/// See the module doc.
pub struct NodeAccess(Holder);

impl NodeAccess {
    /// Access to a node that this process opened.
    pub fn own(node: Node) -> Self {
        Self(Holder::Own(Box::new(node)))
    }

    /// Access to the daemon's node.
    pub fn of(handle: NodeHandle) -> Self {
        Self(Holder::Daemon(handle))
    }

    /// Runs `turn` with the node.
    ///
    /// # Errors
    /// When the daemon's node is shutting down.
    pub fn with<T>(&mut self, turn: impl FnOnce(&mut Node) -> T) -> Result<T, Closed> {
        match &mut self.0 {
            Holder::Own(node) => Ok(turn(node)),
            Holder::Daemon(handle) => Ok(turn(&mut *handle.lend()?)),
        }
    }

    /// Ends the access: a node that this process opened is flushed and closed, the daemon's stays open.
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
