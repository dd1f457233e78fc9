//! The daemon's end: takes command lines from clients and runs what they mean, each on a thread of its own. What they mean it is
//! told (see [`Understand`]): it knows no command.
//!
//! A client is never trusted to be quick or correct. It has a few seconds to send its request, whose length is bounded; what it
//! does not read is kept aside (see `outgoing`); when it disconnects, its command ends the next time it writes. A command
//! that panics is a failed command, nothing more.

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::io::{self, Write};
use std::net::Shutdown;
use std::os::unix::ffi::OsStringExt;
use std::os::unix::fs::PermissionsExt;
use std::os::unix::net::UnixStream;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use tokio::net::{UnixListener, UnixSocket};
use tokio::sync::{OwnedSemaphorePermit, Semaphore, watch};

use super::address;
use super::outgoing::Outgoing;
use super::remote::{Remote, Screen, say};
use super::wire::{self, GREETING, Request, ToClient, ToDaemon};
use crate::console;
use crate::failure::{Exit, Failure};

/// How many commands run at once. Others wait.
const AT_ONCE: usize = 64;
/// How long a client may take to send its request.
const REQUEST_TIMEOUT: Duration = Duration::from_secs(10);
/// How long running commands may take to end by themselves when the daemon stops.
const GRACE: Duration = Duration::from_secs(2);

/// What a client typed, and where it stands.
pub struct Typed {
    /// The command line, the program's name included.
    pub args: Vec<OsString>,
    /// The folder that file names are seen from.
    pub cwd: PathBuf,
}

/// A command that is understood, ready to run.
pub type Work = Box<dyn FnOnce() -> Exit>;

/// Understands command lines. `None`: not one that a daemon carries out.
pub type Understand = Box<dyn Fn(Typed) -> Option<Work> + Send + Sync>;

/// The open control socket.
pub struct Server {
    listener: UnixListener,
    path: PathBuf,
    shared: Arc<Shared>,
    slots: Arc<Semaphore>,
}

struct Shared {
    home: PathBuf,
    understand: Understand,
    /// The sockets of running commands, to end them.
    live: Mutex<BTreeMap<u64, UnixStream>>,
}

impl Server {
    /// Opens the socket of `home`. The caller holds the home's lock.
    ///
    /// # Errors
    /// When there is no place for it.
    pub fn open(home: &Path, understand: Understand) -> Result<Self, Failure> {
        let path = address::claim(home)?;
        let listener = listen(&path)
            .map_err(|e| Failure::failed(format!("cannot open the control socket {}: {e}", path.display())))?;
        Ok(Self {
            listener,
            path,
            shared: Arc::new(Shared {
                home: home.to_path_buf(),
                understand,
                live: Mutex::default(),
            }),
            slots: Arc::new(Semaphore::new(AT_ONCE)),
        })
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Takes commands until `stop` says so; gives those that run a moment then, and ends them.
    pub async fn run(self, mut stop: watch::Receiver<bool>) {
        let mut number = 0;
        loop {
            let accepted = tokio::select! {
                biased;
                _ = stop.wait_for(|stop| *stop) => break,
                accepted = self.accept() => accepted,
            };
            match accepted {
                Ok((stream, slot)) => {
                    number += 1;
                    self.start(number, stream, slot);
                }
                Err(error) => {
                    tracing::warn!(%error, "a command could not be taken from the control socket: {error}");
                    tokio::time::sleep(Duration::from_millis(100)).await;
                }
            }
        }
        self.end().await;
    }

    async fn accept(&self) -> io::Result<(UnixStream, OwnedSemaphorePermit)> {
        let slot = Arc::clone(&self.slots)
            .acquire_owned()
            .await
            .map_err(io::Error::other)?;
        loop {
            let (stream, _) = self.listener.accept().await?;
            let uid = stream.peer_cred()?.uid();
            if uid == rustix::process::geteuid().as_raw() || uid == 0 {
                let stream = stream.into_std()?;
                stream.set_nonblocking(false)?;
                return Ok((stream, slot));
            }
            tracing::warn!(uid, "a command of another user (number {uid}) was turned away");
        }
    }

    fn start(&self, number: u64, stream: UnixStream, slot: OwnedSemaphorePermit) {
        let shared = Arc::clone(&self.shared);
        if let Ok(stream) = stream.try_clone() {
            shared.live().insert(number, stream);
        }
        let started = std::thread::Builder::new().name("command".into()).spawn(move || {
            if let Err(error) = serve_one(&shared, &stream) {
                tracing::debug!(%error, "the client of a command broke off: {error}");
            }
            shared.live().remove(&number);
            drop(slot);
        });
        if let Err(error) = started {
            tracing::warn!(%error, "a command could not be started: {error}");
            self.shared.live().remove(&number);
        }
    }

    /// No new commands; running ones get no more input, and a moment to end.
    async fn end(self) {
        let Self {
            listener,
            shared,
            slots,
            ..
        } = self;
        address::remove_stale(&shared.home);
        drop(listener);
        for (how, grace) in [(Shutdown::Read, GRACE), (Shutdown::Both, GRACE / 4)] {
            shared.live().values().for_each(|stream| drop(stream.shutdown(how)));
            let all = slots.acquire_many(AT_ONCE as u32);
            if tokio::time::timeout(grace, all).await.is_ok() {
                return;
            }
        }
        tracing::warn!("a command did not end in time");
    }
}

impl Shared {
    fn live(&self) -> std::sync::MutexGuard<'_, BTreeMap<u64, UnixStream>> {
        self.live.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Nobody else may connect, not even in the moment between making and listening.
fn listen(path: &Path) -> io::Result<UnixListener> {
    let socket = UnixSocket::new_stream()?;
    socket.bind(path)?;
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o600))?;
    socket.listen(128)
}

fn serve_one(shared: &Shared, stream: &UnixStream) -> io::Result<()> {
    let Some(request) = read_request(stream)? else {
        return Ok(());
    };
    let outgoing = Outgoing::new(&shared.home);
    let mut writing = stream.try_clone()?;
    let carried = outgoing.clone();
    let writer = std::thread::Builder::new()
        .name("words".into())
        .spawn(move || carried.carry(&mut writing))?;
    let outcome = answer(shared, stream, &outgoing, request);
    outgoing.finish();
    writer.join().ok();
    outcome
}

fn read_request(stream: &UnixStream) -> io::Result<Option<Request>> {
    let mut stream = stream;
    stream.set_read_timeout(Some(REQUEST_TIMEOUT))?;
    stream.write_all(GREETING)?;
    if !wire::read_greeting(&mut stream)? {
        return Ok(None);
    }
    let request = match wire::receive(&mut stream)? {
        Some(ToDaemon::Command(request)) => Some(request),
        _ => None,
    };
    stream.set_read_timeout(None)?;
    Ok(request)
}

fn answer(shared: &Shared, stream: &UnixStream, outgoing: &Outgoing, request: Request) -> io::Result<()> {
    let own = env!("CARGO_PKG_VERSION");
    if request.program != own {
        let why = format!("as version {own}, and this is {}", request.program);
        return say(outgoing, &ToClient::Refused(why));
    }
    let text = |bytes: wire::Bytes| OsString::from_vec(bytes.0);
    let typed = Typed {
        args: request.args.into_iter().map(text).collect(),
        cwd: text(request.cwd).into(),
    };
    let Some(work) = (shared.understand)(typed) else {
        return say(outgoing, &ToClient::Refused("another command line".into()));
    };
    say(outgoing, &ToClient::Started)?;
    let screen = Screen {
        width: request.width.and_then(|columns| usize::try_from(columns).ok()),
        shows_progress: request.shows_progress,
    };
    let remote = Remote::new(outgoing.clone(), stream.try_clone()?, screen);
    let command = || console::with(Box::new(remote), work);
    let code = catch_unwind(AssertUnwindSafe(command)).unwrap_or_else(|_| {
        let told = b"gladhand: something went wrong inside; the daemon's log says more\n".to_vec();
        say(outgoing, &ToClient::Err(wire::Bytes(told))).ok();
        Exit::Failed
    });
    say(outgoing, &ToClient::Exit(code as u8))
}
