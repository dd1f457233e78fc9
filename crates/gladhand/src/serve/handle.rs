//! The one door to the node while the daemon runs.
//!
//! The node lives on a thread of its own, because it blocks (fsync, sled, Automerge) and must never be touched by two. Others
//! send it closures and wait for the answer. When the last handle is gone the thread hands the node back and ends.

use std::thread::JoinHandle;

use tokio::sync::{mpsc, oneshot};

use crate::node::Node;

/// How many requests may wait.
const WAITING: usize = 256;

type Work = Box<dyn FnOnce(&mut Node) + Send>;

/// Asks the node for something. Cheap to clone.
#[derive(Clone)]
pub struct NodeHandle {
    work: mpsc::Sender<Work>,
}

/// The node's thread has ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the node is shutting down")]
pub struct Closed;

impl NodeHandle {
    /// Moves `node` to a thread of its own. Joining the thread gives it back.
    pub fn start(node: Node) -> (Self, JoinHandle<Node>) {
        let (work, mut waiting) = mpsc::channel::<Work>(WAITING);
        let thread = std::thread::spawn(move || {
            let mut node = node;
            while let Some(work) = waiting.blocking_recv() {
                work(&mut node);
            }
            node
        });
        (Self { work }, thread)
    }

    /// Runs `ask` on the node's thread and waits for what it returns.
    ///
    /// # Errors
    /// [`Closed`] when the node's thread has ended.
    pub async fn call<T: Send + 'static>(
        &self,
        ask: impl FnOnce(&mut Node) -> T + Send + 'static,
    ) -> Result<T, Closed> {
        let (answer, answered) = oneshot::channel();
        let work: Work = Box::new(move |node| {
            // Whoever asked may have gone; then nobody needs the answer.
            answer.send(ask(node)).ok();
        });
        self.work.send(work).await.map_err(|_| Closed)?;
        answered.await.map_err(|_| Closed)
    }
}
