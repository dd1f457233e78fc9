//! Shared access to the node while the daemon runs.
//!
//! The node blocks (fsync, sled, Automerge) and allows one user at a time. It is kept in one slot behind a fair mutex. Async code
//! sends closures to a thread that locks the slot for each of them ([`NodeHandle::call`]); a command on a thread of its own locks
//! it for as long as it needs ([`NodeHandle::lend`]). When the last handle is dropped the thread ends and returns the node.
//!
//! Questions hold the node only for as long as it takes to make a [`Snapshot`] of it. Judging works on a snapshot too, and holds the
//! node for one part of what is kept at a time ([`NodeHandle::judged`]).
//!
//! Deliberately absent: parallel writers. One user at a time keeps book, journal and index in agreement for each of them.
//!
//! Invariant: no user sees a node whose last user panicked. Such a node is dropped and opened again from its home, which is always
//! consistent on disk, before the next user gets it.

use std::ops::{Deref, DerefMut};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

use tokio::sync::{Mutex, Notify, OwnedMappedMutexGuard, OwnedMutexGuard, mpsc, oneshot};

use crate::error::NodeError;
use crate::node::Node;
use crate::progress::Silent;
use crate::snapshot::Snapshot;

/// How many closures may wait for the thread.
const MAX_WAITING: usize = 256;

type Work = Box<dyn FnOnce(&mut Node) + Send>;

/// Holds the node. Empty only after the node could not be opened again.
struct NodeSlot {
    node: Arc<Mutex<Option<Node>>>,
    home: PathBuf,
    /// Held by the one who judges.
    judging: Turn,
    /// A user panicked while it held a guard.
    user_panicked: AtomicBool,
    /// Notified after each use of the node.
    used: Notify,
    /// Notified when the node could not be opened again.
    died: Notify,
}

/// Access to the shared node. Cheap to clone.
#[derive(Clone)]
pub struct NodeHandle {
    work: mpsc::Sender<Work>,
    slot: Arc<NodeSlot>,
}

/// The node is shutting down, or could not be opened again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the node is shutting down")]
pub struct Closed;

/// Exclusive access to the node until it is dropped.
pub struct NodeGuard {
    node: OwnedMappedMutexGuard<Option<Node>, Node>,
    slot: Arc<NodeSlot>,
}

impl Deref for NodeGuard {
    type Target = Node;
    fn deref(&self) -> &Node {
        &self.node
    }
}

impl DerefMut for NodeGuard {
    fn deref_mut(&mut self) -> &mut Node {
        &mut self.node
    }
}

impl Drop for NodeGuard {
    fn drop(&mut self) {
        if std::thread::panicking() {
            self.slot.user_panicked.store(true, Ordering::SeqCst);
        }
    }
}

impl NodeSlot {
    /// Waits for the slot. Blocks: not for async code.
    fn take(self: &Arc<Self>) -> Result<NodeGuard, Closed> {
        self.guard(Arc::clone(&self.node).blocking_lock_owned())
    }

    /// Makes a guard of a locked slot, after opening the node again if its last user panicked.
    fn guard(self: &Arc<Self>, mut place: OwnedMutexGuard<Option<Node>>) -> Result<NodeGuard, Closed> {
        if self.user_panicked.swap(false, Ordering::SeqCst) {
            self.reopen(&mut place);
        }
        let node = OwnedMutexGuard::try_map(place, Option::as_mut).map_err(|_| Closed)?;
        Ok(NodeGuard {
            node,
            slot: Arc::clone(self),
        })
    }

    fn reopen(&self, slot: &mut Option<Node>) {
        // The old node holds the lock of the home, so it is dropped first.
        *slot = None;
        match Node::open(&self.home, &Silent) {
            Ok(node) => {
                tracing::error!("after something went wrong inside, the store was opened again from the disk");
                *slot = Some(node);
            }
            Err(error) => {
                tracing::error!(%error, "the store cannot be opened again: {error}");
                self.died.notify_one();
            }
        }
    }
}

impl NodeHandle {
    /// Takes `node` and starts the thread that runs the closures of async code. The thread ends when all handles are dropped and
    /// returns the node once no guard is held.
    pub fn start(node: Node) -> (Self, JoinHandle<Option<Node>>) {
        let (handle, waiting) = Self::slot(node);
        let slot = Arc::clone(&handle.slot);
        let thread = std::thread::spawn(move || work_on(&slot, waiting));
        (handle, thread)
    }

    /// Takes `node` without starting a thread: the returned future runs the closures, and returns the node like the thread. For a
    /// runtime with simulated time: a thread would work while simulated time goes on, the future stops it.
    pub fn start_here(node: Node) -> (Self, impl Future<Output = Option<Node>>) {
        let (handle, waiting) = Self::slot(node);
        let slot = Arc::clone(&handle.slot);
        (handle, work_here(slot, waiting))
    }

    fn slot(node: Node) -> (Self, mpsc::Receiver<Work>) {
        let (work, waiting) = mpsc::channel::<Work>(MAX_WAITING);
        let slot = Arc::new(NodeSlot {
            home: node.home().layout().path().to_path_buf(),
            node: Arc::new(Mutex::new(Some(node))),
            judging: Turn::default(),
            user_panicked: AtomicBool::new(false),
            used: Notify::new(),
            died: Notify::new(),
        });
        (Self { work, slot }, waiting)
    }

    /// Runs `ask` on the node's thread and waits for what it returns.
    ///
    /// # Errors
    /// [`Closed`] when the node is shutting down, or `ask` panicked.
    pub async fn call<T: Send + 'static>(
        &self,
        ask: impl FnOnce(&mut Node) -> T + Send + 'static,
    ) -> Result<T, Closed> {
        let (answer, answered) = oneshot::channel();
        let work: Work = Box::new(move |node| {
            // The caller may have been cancelled; then the answer is not needed.
            answer.send(ask(node)).ok();
        });
        self.work.send(work).await.map_err(|_| Closed)?;
        answered.await.map_err(|_| Closed)
    }

    /// Locks the node until the guard is dropped. All others wait meanwhile, so hold it briefly, and never while waiting for a
    /// person or a peer. Blocks: for threads, not for async code.
    ///
    /// # Errors
    /// [`Closed`] when the node is shutting down.
    pub fn lend(&self) -> Result<NodeGuard, Closed> {
        self.lend_quietly().inspect(|_| self.slot.used.notify_one())
    }

    /// As [`NodeHandle::lend`], but does not count as use: for the daemon's housekeeping, which runs after use.
    ///
    /// # Errors
    /// [`Closed`] when the node is shutting down.
    pub fn lend_quietly(&self) -> Result<NodeGuard, Closed> {
        self.slot.take()
    }
}

/// Why a question got no view of the node.
#[derive(Debug, thiserror::Error)]
pub enum ViewError {
    /// The node is shutting down.
    #[error(transparent)]
    Closed(#[from] Closed),
    /// Journal or index could not be read or written.
    #[error(transparent)]
    Node(#[from] NodeError),
}

/// Keeps a part of what was judged.
type Keep<'k> = &'k mut dyn FnMut(crate::judging::Part) -> Result<(), NodeError>;

/// One may judge at a time.
#[derive(Default)]
struct Turn {
    is_taken: std::sync::Mutex<bool>,
    given_back: Condvar,
}

/// The turn, given back when it is dropped.
struct Taken<'t>(&'t Turn);

impl Turn {
    fn take(&self) -> Taken<'_> {
        let taken = self.is_taken.lock().unwrap_or_else(PoisonError::into_inner);
        let taken = self.given_back.wait_while(taken, |taken| *taken);
        *taken.unwrap_or_else(PoisonError::into_inner) = true;
        Taken(self)
    }

    fn take_within(&self, wait: Duration) -> Option<Taken<'_>> {
        let taken = self.is_taken.lock().unwrap_or_else(PoisonError::into_inner);
        let waited = self.given_back.wait_timeout_while(taken, wait, |taken| *taken);
        let (mut taken, waited) = waited.unwrap_or_else(PoisonError::into_inner);
        (!waited.timed_out()).then(|| {
            *taken = true;
            Taken(self)
        })
    }
}

impl Drop for Taken<'_> {
    fn drop(&mut self) {
        *self.0.is_taken.lock().unwrap_or_else(PoisonError::into_inner) = false;
        self.0.given_back.notify_one();
    }
}

/// How often judging starts anew when the index is emptied meanwhile.
const ATTEMPTS: usize = 3;

impl NodeHandle {
    /// What the node is now. The findings in it may be older: see [`Snapshot::is_judged`](Node::is_judged). Blocks briefly: for
    /// threads, not for async code.
    ///
    /// # Errors
    /// [`ViewError`].
    pub fn snapshot(&self) -> Result<Snapshot, ViewError> {
        Ok(self.lend_quietly()?.fresh_snapshot()?)
    }

    /// What the node is now, with the findings as of this moment. Judges what is not judged yet, or waits for whoever does; others
    /// use the node meanwhile. Blocks: for threads, not for async code.
    ///
    /// # Errors
    /// [`ViewError`].
    pub fn judged(&self) -> Result<Snapshot, ViewError> {
        let _turn = self.slot.judging.take();
        let judged = self.attempt(|snapshot, keep| snapshot.judge_with(keep).map(|()| true));
        judged.map(|(snapshot, _)| snapshot)
    }

    /// As [`NodeHandle::judged`], but soon: where there is much to judge, or somebody judges for longer than `wait`, the findings are
    /// those of the last judging. Returns whether they are those of now.
    ///
    /// # Errors
    /// [`ViewError`].
    pub fn judged_within(&self, wait: Duration) -> Result<(Snapshot, bool), ViewError> {
        match self.slot.judging.take_within(wait) {
            Some(_turn) => self.attempt(|snapshot, keep| snapshot.judge_a_little_with(keep)),
            None => Ok((self.snapshot()?, false)),
        }
    }

    /// Runs `judge` on a snapshot, again when the index is emptied meanwhile. The caller has the turn.
    fn attempt(
        &self,
        judge: impl Fn(&Snapshot, Keep<'_>) -> Result<bool, NodeError>,
    ) -> Result<(Snapshot, bool), ViewError> {
        let mut attempts = 1..ATTEMPTS;
        loop {
            let mut snapshot = self.snapshot()?;
            let judged = judge(&snapshot, &mut |part| match self.lend_quietly() {
                Ok(mut node) if snapshot.has_the_index_of(&node) => node.keep(part),
                _ => Err(NodeError::IndexRenewed),
            });
            match judged {
                Ok(is_judged) => {
                    snapshot.take_findings_of(&*self.lend_quietly()?);
                    return Ok((snapshot, is_judged));
                }
                Err(NodeError::IndexRenewed) if attempts.next().is_some() => {}
                Err(error) => return Err(error.into()),
            }
        }
    }

    /// Notes that there is something to do for the housekeeping.
    pub fn note_use(&self) {
        self.slot.used.notify_one();
    }

    /// Waits until the node was used since the last call. For one waiter.
    pub async fn used(&self) {
        self.slot.used.notified().await;
    }

    /// Waits until the node could not be opened again after a panic. For one waiter.
    pub async fn died(&self) {
        self.slot.died.notified().await;
    }
}

/// The thread: runs one closure after the other, until all handles are dropped.
fn work_on(slot: &Arc<NodeSlot>, mut waiting: mpsc::Receiver<Work>) -> Option<Node> {
    while let Some(work) = waiting.blocking_recv() {
        if !work_once(slot, Arc::clone(&slot.node).blocking_lock_owned(), work) {
            break;
        }
    }
    drop(waiting);
    slot.node.blocking_lock().take()
}

/// As [`work_on`], as a future.
async fn work_here(slot: Arc<NodeSlot>, mut waiting: mpsc::Receiver<Work>) -> Option<Node> {
    while let Some(work) = waiting.recv().await {
        if !work_once(&slot, Arc::clone(&slot.node).lock_owned().await, work) {
            break;
        }
    }
    drop(waiting);
    slot.node.lock().await.take()
}

/// Runs one closure. `false`: the node could not be opened again.
fn work_once(slot: &Arc<NodeSlot>, place: OwnedMutexGuard<Option<Node>>, work: Work) -> bool {
    let outcome = catch_unwind(AssertUnwindSafe(|| slot.guard(place).map(|mut guard| work(&mut guard))));
    slot.used.notify_one();
    !matches!(outcome, Ok(Err(Closed)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::{Config, Role};
    use gladhand_facts::Fact;

    fn node(dir: &std::path::Path) -> Node {
        Node::create(&dir.join("home"), &Config::new("mara", Role::Laptop, "mara", "")).unwrap()
    }

    fn note(node: &mut Node, text: &str) -> u64 {
        let fact = Fact::from_line(&node.device(), &format!(r#"{{"kind":"note","text":"{text}"}}"#)).unwrap();
        node.record(vec![fact]).unwrap()[0].place.seq
    }

    fn block_on<T>(future: impl Future<Output = T>) -> T {
        tokio::runtime::Builder::new_current_thread()
            .build()
            .unwrap()
            .block_on(future)
    }

    #[test]
    fn calls_and_loans_take_turns_and_the_node_comes_back() {
        let dir = tempfile::tempdir().unwrap();
        let (handle, thread) = NodeHandle::start(node(dir.path()));
        let first = block_on(handle.call(|node| note(node, "one"))).unwrap();
        let second = note(&mut handle.lend().unwrap(), "two");
        assert_eq!(second, first + 1);
        drop(handle);
        let mut node = thread.join().unwrap().unwrap();
        assert_eq!(note(&mut node, "three"), first + 2);
    }

    #[test]
    fn after_a_panic_the_node_is_opened_again_and_nothing_is_lost() {
        let dir = tempfile::tempdir().unwrap();
        let (handle, thread) = NodeHandle::start(node(dir.path()));
        let first = block_on(handle.call(|node| note(node, "before"))).unwrap();
        let torn: Result<(), Closed> = block_on(handle.call(|_| panic!("on purpose")));
        assert_eq!(torn, Err(Closed));
        assert_eq!(block_on(handle.call(|node| note(node, "between"))).unwrap(), first + 1);
        let other = handle.clone();
        let torn = std::thread::spawn(move || {
            let _loan = other.lend().unwrap();
            panic!("on purpose")
        });
        assert!(torn.join().is_err());
        assert_eq!(note(&mut handle.lend().unwrap(), "after"), first + 2);
        drop(handle);
        assert!(thread.join().unwrap().is_some());
    }
}
