//! How a command gets at the node: opened by this process, or lent by the daemon that this process is.

use std::ops::{Deref, DerefMut};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use gladhand_store::OpenHomeError;

use crate::control::{address, client};
use crate::failure::Failure;
use crate::show;
use gladhand_node::NodeHandle;
use gladhand_node::handle::NodeGuard;
use gladhand_node::{Environment, Node, NodeAccess, NodeError, OpenNodeError, Snapshot};

/// How long a command waits for another one that has the home open.
const PATIENCE: Duration = Duration::from_secs(2);

/// How long a question waits for somebody who judges.
const JUDGED_SOON: Duration = Duration::from_millis(300);

/// The thread that gives a node of our own back.
pub type OwnThread = std::thread::JoinHandle<Option<Node>>;

/// Where the node is.
#[derive(Clone)]
enum NodeSource {
    /// In a home that nobody has open, opened in this environment.
    Own(Environment),
    /// With the daemon that runs this command.
    Daemon(NodeHandle),
}

/// What all commands share.
#[derive(Clone)]
pub struct Context {
    /// The home folder.
    pub home: PathBuf,
    /// Machine-readable output.
    pub json: bool,
    cwd: PathBuf,
    source: NodeSource,
}

impl Context {
    /// For a command that opens the home itself.
    pub fn new(home: PathBuf, json: bool) -> Self {
        let cwd = std::env::current_dir().unwrap_or_default();
        let home = std::path::absolute(&home).unwrap_or(home);
        Self {
            home,
            json,
            cwd,
            source: NodeSource::Own(Environment::machine()),
        }
    }

    /// The same, in another environment than this machine's.
    pub fn with_environment(mut self, environment: Environment) -> Self {
        self.source = NodeSource::Own(environment);
        self
    }

    /// For a command that the daemon runs for somebody who stands in `cwd`.
    pub fn lent(home: PathBuf, json: bool, cwd: PathBuf, node: NodeHandle) -> Self {
        Self {
            home,
            json,
            cwd,
            source: NodeSource::Daemon(node),
        }
    }

    /// A file that the command line names, seen from where the user stands. Show the name as it was given.
    pub fn at(&self, file: &Path) -> PathBuf {
        self.cwd.join(file)
    }

    /// Opens the home, or borrows the daemon's node, and tells what opening it brought to light. The daemon's node is
    /// nobody else's meanwhile: do not wait for a person or a pipe with it in hand (see [`NodeAccess`]).
    ///
    /// # Errors
    /// When it cannot be opened.
    pub fn open(&self) -> Result<OpenNode, Failure> {
        match &self.source {
            NodeSource::Own(environment) => Ok(OpenNode(Held::Own(Box::new(self.open_own(environment)?)))),
            NodeSource::Daemon(handle) => Ok(OpenNode(Held::Lent(lent(handle)?))),
        }
    }

    /// The node as it is now, for a question: nobody waits for it. The findings in it are those of the last judging.
    ///
    /// # Errors
    /// As [`Context::open`].
    pub fn view(&self) -> Result<ViewedNode, Failure> {
        match &self.source {
            NodeSource::Own(environment) => Ok(ViewedNode::Own(Box::new(self.open_own(environment)?))),
            NodeSource::Daemon(handle) => ViewedNode::of(handle, handle.snapshot()?),
        }
    }

    /// The same with the findings as of now, however long judging takes: for what must be certain.
    ///
    /// # Errors
    /// As [`Context::open`].
    pub fn judged_view(&self) -> Result<ViewedNode, Failure> {
        match &self.source {
            NodeSource::Own(environment) => self.own_judged(environment),
            NodeSource::Daemon(handle) => ViewedNode::of(handle, handle.judged()?),
        }
    }

    /// The same, but soon: where much is being judged, the findings are those of the last judging, and the person is told.
    ///
    /// # Errors
    /// As [`Context::open`].
    pub fn soon_judged_view(&self) -> Result<ViewedNode, Failure> {
        let handle = match &self.source {
            NodeSource::Own(environment) => return self.own_judged(environment),
            NodeSource::Daemon(handle) => handle,
        };
        let (snapshot, is_judged) = handle.judged_within(JUDGED_SOON)?;
        if !is_judged {
            show::aside(
                "gladhand: much is being judged; the findings here are as of the last time that all was judged",
            );
        }
        ViewedNode::of(handle, snapshot)
    }

    fn own_judged(&self, environment: &Environment) -> Result<ViewedNode, Failure> {
        let mut node = self.open_own(environment)?;
        node.judge()?;
        Ok(ViewedNode::Own(Box::new(node)))
    }

    /// As [`Context::open`], for a command that waits in between.
    ///
    /// # Errors
    /// As [`Context::open`].
    pub fn access(&self) -> Result<NodeAccess, Failure> {
        match &self.source {
            NodeSource::Own(environment) => Ok(NodeAccess::own(self.open_own(environment)?)),
            NodeSource::Daemon(handle) => {
                drop(lent(handle)?);
                Ok(NodeAccess::of(handle.clone()))
            }
        }
    }

    /// The node as async code asks it: the daemon's, or our own on a thread that gives it back.
    ///
    /// # Errors
    /// As [`Context::open`].
    pub fn handle(&self) -> Result<(NodeHandle, Option<OwnThread>), Failure> {
        match &self.source {
            NodeSource::Own(environment) => {
                let (handle, thread) = NodeHandle::start(self.open_own(environment)?);
                Ok((handle, Some(thread)))
            }
            NodeSource::Daemon(handle) => {
                drop(lent(handle)?);
                Ok((handle.clone(), None))
            }
        }
    }

    fn open_own(&self, environment: &Environment) -> Result<Node, Failure> {
        let node = open_or_leave(&self.home, environment)?;
        for found in node.damage() {
            show::aside(&format!("gladhand: damage found and set aside: {found}"));
            show::aside("  What was good is kept. What is lost comes back with a bundle from any peer that has it.");
        }
        tell(node.notes().iter());
        tell_if_retired(&node);
        // A daemon that was killed may have left its socket. We hold the home, so it is nobody's.
        address::remove_stale(&self.home);
        Ok(node)
    }
}

/// The daemon's node, when what every command tells is told.
fn lent(handle: &NodeHandle) -> Result<NodeGuard, Failure> {
    let node = handle.lend()?;
    tell(node.lasting_notes());
    tell_if_retired(&node);
    Ok(node)
}

fn tell<'n>(notes: impl Iterator<Item = &'n String>) {
    notes.for_each(|note| show::aside(&format!("gladhand: {note}")));
}

/// A person who goes on recording must know that it will not count.
pub(super) fn tell_if_retired(node: &Node) {
    if node.is_retired() {
        tell_retired();
    }
}

pub(super) fn tell_retired() {
    show::aside("gladhand: the depot has retired this device: what it records from then on counts nowhere");
    show::aside("  Ask the depot. To work on, make a new home and join it with a new invite.");
}

/// Two commands at once take turns instead of failing.
pub(crate) fn open_patiently(home: &Path) -> Result<Node, OpenNodeError> {
    open_unless(home, &Environment::machine(), || false)
}

/// As [`open_patiently`], unless a daemon has come meanwhile: it is to be asked then.
fn open_or_leave(home: &Path, environment: &Environment) -> Result<Node, Failure> {
    open_unless(home, environment, || client::is_served(home)).map_err(|error| {
        let is_locked = matches!(error, OpenNodeError::Home(OpenHomeError::Locked { .. }));
        Failure {
            is_served: is_locked && client::is_served(home),
            ..error.into()
        }
    })
}

fn open_unless(home: &Path, environment: &Environment, is_pointless: impl Fn() -> bool) -> Result<Node, OpenNodeError> {
    let until = Instant::now() + PATIENCE;
    loop {
        match Node::open_with(home, &show::Bar::new(), environment.clone()) {
            Err(OpenNodeError::Home(OpenHomeError::Locked { .. })) if Instant::now() < until && !is_pointless() => {
                std::thread::sleep(Duration::from_millis(20));
            }
            other => return other,
        }
    }
}

/// Tells the daemon's housekeeping when a question is answered: what it took of memory can be given back then.
pub struct AnswerEnd(NodeHandle);

impl Drop for AnswerEnd {
    fn drop(&mut self) {
        self.0.note_use();
    }
}

/// A node that is only asked.
pub enum ViewedNode {
    /// Opened by this process.
    Own(Box<Node>),
    /// The daemon's, as it was at a moment.
    Then(Box<Snapshot>, Option<AnswerEnd>),
}

impl ViewedNode {
    fn of(handle: &NodeHandle, snapshot: Snapshot) -> Result<Self, Failure> {
        tell(snapshot.lasting_notes());
        tell_if_retired(&snapshot);
        Ok(Self::Then(Box::new(snapshot), Some(AnswerEnd(handle.clone()))))
    }

    /// Done with it.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn close(self) -> Result<(), NodeError> {
        match self {
            Self::Own(node) => node.close(),
            Self::Then(..) => Ok(()),
        }
    }
}

impl Deref for ViewedNode {
    type Target = Node;
    fn deref(&self) -> &Node {
        match self {
            Self::Own(node) => node,
            Self::Then(snapshot, _) => snapshot,
        }
    }
}

enum Held {
    Own(Box<Node>),
    Lent(NodeGuard),
}

/// The node, for as long as a command holds it.
pub struct OpenNode(Held);

impl OpenNode {
    /// For what remains to be asked: a lent node goes back.
    ///
    /// # Errors
    /// When journal or index cannot be read or written.
    pub fn into_view(self) -> Result<ViewedNode, NodeError> {
        match self.0 {
            Held::Own(node) => Ok(ViewedNode::Own(node)),
            Held::Lent(mut guard) => Ok(ViewedNode::Then(Box::new(guard.fresh_snapshot()?), None)),
        }
    }

    /// Done with the node: a node of our own is flushed and closed, a lent one goes back.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn close(self) -> Result<(), NodeError> {
        match self.0 {
            Held::Own(node) => node.close(),
            Held::Lent(_) => Ok(()),
        }
    }
}

impl Deref for OpenNode {
    type Target = Node;
    fn deref(&self) -> &Node {
        match &self.0 {
            Held::Own(node) => node,
            Held::Lent(guard) => guard,
        }
    }
}

impl DerefMut for OpenNode {
    fn deref_mut(&mut self) -> &mut Node {
        match &mut self.0 {
            Held::Own(node) => node,
            Held::Lent(guard) => guard,
        }
    }
}
