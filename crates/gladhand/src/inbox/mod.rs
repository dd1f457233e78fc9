//! The inbox: files dropped into `<home>/inbox/` become facts.
//!
//! A file is read when it is finished: renamed into place, or unchanged for two seconds. Its good lines are durable before it
//! moves to `done/`, its bad lines are in `rejected/` before that, and a picture moves after it is kept. So a kill between
//! any two steps leaves a file that is read again and adds nothing the second time. The watch only says when to look: a full
//! look at the start and every few minutes finds what it missed.
//!
//! ```text
//! look   list the folder; who is new, who has changed, who is finished      (`files`)
//! read   each finished facts file: facts -> node, bad lines -> `rejected/`   (`file_intake`)
//! move   to `done/`, under a number if the name is taken                     (`place`)
//! ```
//! Deliberately absent: deleting. Files that are neither facts nor named pictures are left alone and reported once. Names
//! that begin with a dot are somebody's temporary files and are not looked at.

mod file_intake;
mod files;
mod place;
mod watch;

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use gladhand_store::{Layout, PictureHash, Pictures};
use tokio::sync::oneshot;

use crate::failure::Failure;
use file_intake::{FileIntake, Interrupted};
use files::{FileState, Files};
use gladhand_node::NodeAccess;
use gladhand_node::NodeHandle;
use gladhand_node::intake::{Stopped, Tally};
use gladhand_node::{NodeError, RecordError};
use watch::{Nudge, Watch};

/// How often everything is looked at, whatever the watch says.
const LOOK_EVERY: Duration = Duration::from_secs(180);
/// The same where the system cannot watch.
const LOOK_WITHOUT_WATCH: Duration = Duration::from_secs(5);
/// How long a file waits after the disk was full, at first; later up to eight times that.
const RETRY: Duration = Duration::from_secs(5);

/// A running inbox.
pub struct Running {
    stop: Arc<AtomicBool>,
    nudge: Sender<Nudge>,
    ended: oneshot::Receiver<()>,
}

impl Running {
    /// Ends it after the batch in hand. What was not read stays where it is.
    pub async fn stop(self) {
        self.stop.store(true, Ordering::SeqCst);
        self.nudge.send(Nudge::Stop).ok();
        self.ended.await.ok();
    }
}

/// Starts the inbox of `home` on a thread of its own.
///
/// # Errors
/// When there can be no thread.
pub fn start(home: &Path, node: NodeHandle) -> Result<Running, Failure> {
    let (nudge, nudges) = channel();
    let (end, ended) = oneshot::channel();
    let stop = Arc::new(AtomicBool::new(false));
    let mut inbox = Inbox::new(&Layout::new(home), node, Arc::clone(&stop), nudge.clone());
    std::thread::Builder::new().name("inbox".into()).spawn(move || {
        inbox.run(&nudges);
        drop(inbox);
        end.send(()).ok();
    })?;
    Ok(Running { stop, nudge, ended })
}

/// Why files wait, by home: `status` is asked on another thread.
static WAITING: Mutex<BTreeMap<PathBuf, BTreeMap<String, String>>> = Mutex::new(BTreeMap::new());

/// The files that the inbox of `home` has seen and not read yet, each with why. `None` when no inbox of it runs in this process.
pub fn waiting(home: &Path) -> Option<BTreeMap<String, String>> {
    let all = WAITING.lock().unwrap_or_else(PoisonError::into_inner);
    all.get(home).cloned()
}

struct Inbox {
    layout: Layout,
    access: NodeAccess,
    node: NodeHandle,
    pictures: Pictures,
    files: Files,
    stop: Arc<AtomicBool>,
    nudge: Sender<Nudge>,
    watch: Option<Watch>,
    looked: Option<Instant>,
    without_watch_told: bool,
}

impl Inbox {
    fn new(layout: &Layout, node: NodeHandle, stop: Arc<AtomicBool>, nudge: Sender<Nudge>) -> Self {
        Self {
            pictures: Pictures::new(&layout.pictures()),
            files: Files::new(&layout.inbox()),
            layout: layout.clone(),
            access: NodeAccess::of(node.clone()),
            node,
            stop,
            nudge,
            watch: None,
            looked: None,
            without_watch_told: false,
        }
    }

    fn stopping(&self) -> bool {
        self.stop.load(Ordering::SeqCst)
    }

    fn run(&mut self, nudges: &Receiver<Nudge>) {
        // As the configuration has them; on this thread the node may be waited for.
        if let Ok(pictures) = self.access.with(|node| node.pictures()) {
            self.pictures = pictures;
        }
        while !self.stopping() {
            let now = Instant::now();
            let look_due = self.looked.is_none_or(|looked| now >= looked + self.look_every());
            if look_due {
                self.keep_watching();
                self.looked = Some(now);
            }
            if look_due || self.files.is_due(now) {
                self.pass();
                continue;
            }
            match nudges.recv_timeout(self.wait(now)) {
                Ok(first) => std::iter::once(first)
                    .chain(nudges.try_iter())
                    .for_each(|n| self.hear(n)),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => return,
            }
        }
    }

    fn look_every(&self) -> Duration {
        if self.watch.is_some() {
            LOOK_EVERY
        } else {
            LOOK_WITHOUT_WATCH
        }
    }

    /// Until the next thing to do.
    fn wait(&self, now: Instant) -> Duration {
        let look = self.looked.map_or(now, |looked| looked + self.look_every());
        let next = self.files.next_due().map_or(look, |due| due.min(look));
        next.saturating_duration_since(now)
    }

    fn hear(&mut self, nudge: Nudge) {
        match nudge {
            Nudge::Arrived(name) => self.files.note(&name, true),
            Nudge::Changed(name) => self.files.note(&name, false),
            Nudge::Look => self.looked = None,
            Nudge::Stop => {}
        }
    }

    /// The folders are there, and the watch is on the one that is there now.
    fn keep_watching(&mut self) {
        for dir in [
            self.layout.inbox(),
            self.layout.inbox_done(),
            self.layout.inbox_rejected(),
        ] {
            if let Err(error) = std::fs::create_dir_all(&dir) {
                tracing::warn!(%error, "inbox: {} cannot be made: {error}", dir.display());
            }
        }
        if self.watch.as_ref().is_some_and(Watch::is_good) {
            return;
        }
        match Watch::start(&self.layout.inbox(), self.nudge.clone()) {
            Ok(watch) => (self.watch, self.without_watch_told) = (Some(watch), false),
            Err(error) => {
                self.watch = None;
                if !std::mem::replace(&mut self.without_watch_told, true) {
                    tracing::warn!(
                        %error,
                        "inbox: the system cannot watch it ({error}), so it is looked at every few seconds"
                    );
                }
            }
        }
    }

    /// Looks at everything, reads what is finished, moves what was read.
    fn pass(&mut self) {
        self.pass_through();
        let mut all = WAITING.lock().unwrap_or_else(PoisonError::into_inner);
        all.insert(self.layout.path().to_owned(), self.files.waiting());
    }

    fn pass_through(&mut self) {
        if let Err(error) = self.files.look() {
            tracing::warn!(%error, "inbox: it cannot be listed: {error}");
            // It is looked for every few seconds from now on.
            self.watch = None;
            return self.files.forget_all();
        }
        for name in self.files.due_facts(Instant::now()) {
            if self.stopping() {
                return;
            }
            self.read(&name);
        }
        let facts_wait = self.files.any_facts();
        for name in self.files.due_others(Instant::now(), facts_wait) {
            self.look_into_other(&name, facts_wait);
        }
    }

    fn path(&self, name: &OsString) -> PathBuf {
        self.layout.inbox().join(name)
    }

    fn read(&mut self, name: &OsString) {
        let mut tally = self.files.tally(name);
        let outcome = self.take_in(name, &mut tally);
        self.files.set_tally(name, tally);
        let moved = outcome.and_then(|rejected| {
            let stays = |e: std::io::Error| Stopped::Source(format!("it cannot be moved to done: {e}"));
            let done = place::to_done(&self.layout, name).map_err(stays)?;
            file_intake::tell(name, &tally, rejected.as_deref());
            Ok(done)
        });
        match moved {
            Ok(done) => {
                self.files.forget(name);
                if tally.recorded == 0 && tally.already > 0 {
                    place::note_nothing_new(&done, tally.already);
                }
            }
            Err(stopped) => self.put_off(name, stopped),
        }
    }

    /// Reads a file to its end: its facts are durable then, and so are its rejected lines, in the file that is returned.
    fn take_in(&mut self, name: &OsString, tally: &mut Tally) -> Result<Option<PathBuf>, Stopped<Interrupted>> {
        let (node, stop) = (self.node.clone(), Arc::clone(&self.stop));
        let mut reading = FileIntake::new(&self.layout, name, &self.files, node, stop)?;
        reading.run(&mut self.access, tally)?;
        reading.rejected()
    }

    /// The file stays where it is, for now.
    fn put_off(&mut self, name: &OsString, stopped: Stopped<Interrupted>) {
        let shown = name.to_string_lossy();
        let now = Instant::now();
        let (why, wait) = match stopped {
            Stopped::NotYet(why) => {
                tracing::debug!(file = %shown, %why, "inbox: {shown} waits: {why}");
                return self.files.wait(name, now + files::SETTLED);
            }
            Stopped::Closed => return self.files.wait(name, now + LOOK_EVERY),
            Stopped::Listener(_) if self.stopping() => return,
            Stopped::Listener(why) => (why.to_string(), RETRY),
            Stopped::Node(RecordError::Node(NodeError::Append(e))) if e.is_disk_full() => (e.to_string(), RETRY),
            Stopped::Node(error) => (error.to_string(), RETRY),
            Stopped::Source(why) => (why, RETRY),
        };
        let tries = self.files.retry(name, &why, now, wait);
        if tries == 1 {
            tracing::warn!(file = %shown, %why, "inbox: {shown} waits, and is tried again from time to time: {why}");
        }
    }

    /// A file that holds no facts: one of our pictures moves, everything else is left alone.
    fn look_into_other(&mut self, name: &OsString, facts_wait: bool) {
        let bytes = self.picture_bytes(name);
        let is_kept = |bytes: &[u8]| self.pictures.has(&PictureHash::of(bytes));
        if matches!(&bytes, Ok(Some(bytes)) if is_kept(bytes)) {
            return self.move_picture(name);
        }
        if facts_wait {
            return;
        }
        match bytes.and_then(|bytes| self.take_late(name, bytes)) {
            Ok(0) => {
                self.files.set(name, FileState::LeftAlone);
                let shown = name.to_string_lossy();
                tracing::info!(
                    file = %shown,
                    "inbox: {shown} is left alone: it holds no facts, and no fact has named it so far"
                );
            }
            Ok(_) => self.move_picture(name),
            Err(stopped) => self.put_off(name, stopped),
        }
    }

    /// The bytes of a file that is not too large for a picture that anybody keeps.
    fn picture_bytes(&self, name: &OsString) -> Result<Option<Vec<u8>>, Stopped<Interrupted>> {
        let path = self.path(name);
        let max_bytes = self.pictures.max_bytes();
        let small = std::fs::metadata(&path).is_ok_and(|meta| meta.is_file() && meta.len() <= max_bytes);
        let read = small.then(|| std::fs::read(&path)).transpose();
        read.map_err(|e| Stopped::Source(e.to_string()))
    }

    /// A picture whose facts could not wait for it. Returns how many there are.
    fn take_late(&mut self, name: &OsString, bytes: Option<Vec<u8>>) -> Result<usize, Stopped<Interrupted>> {
        let (Some(bytes), Some(shown)) = (bytes, name.to_str()) else {
            return Ok(0);
        };
        let taken = self.access.with(|node| node.take_late_picture(shown, &bytes));
        taken.map_err(|_| Stopped::Closed)?.map_err(Stopped::from)
    }

    fn move_picture(&mut self, name: &OsString) {
        let shown = name.to_string_lossy();
        match place::to_done(&self.layout, name) {
            Ok(_) => {
                tracing::info!(file = %shown, "inbox: {shown} is a picture that facts name, and is kept");
                self.files.forget(name);
            }
            Err(error) => {
                let why = format!("it cannot be moved to done: {error}");
                if self.files.retry(name, &why, Instant::now(), RETRY) == 1 {
                    tracing::warn!(file = %shown, %why, "inbox: {shown} is a picture that is kept, but {why}");
                }
            }
        }
    }
}

#[cfg(test)]
#[path = "../inbox_tests.rs"]
mod tests;

impl Drop for Inbox {
    fn drop(&mut self) {
        let mut all = WAITING.lock().unwrap_or_else(PoisonError::into_inner);
        all.remove(self.layout.path());
    }
}
