//! The client's end: hands a command to the daemon, if there is one, and passes its output on.

use std::ffi::OsString;
use std::fs::File;
use std::io::{self, BufReader, Read, Write};
use std::os::unix::ffi::OsStringExt;
use std::os::unix::net::UnixStream;
use std::path::Path;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

use super::address;
use super::wire::{self, Bytes, GREETING, PIECE_BYTES, Request, ToClient, ToDaemon};
use crate::console;
use crate::failure::{Exit, Failure};
use crate::show;
use gladhand_node::Progress;

/// How long a client waits for a daemon that is just starting or stopping, or for another command.
const PATIENCE: Duration = Duration::from_secs(8);
/// How long a daemon may take to begin a command.
const ANSWER_TIMEOUT: Duration = Duration::from_secs(10);

/// Why the daemon did not begin the command.
enum NotBegun {
    /// There is none, or it is just shutting down: the command may be run here.
    Nobody,
    /// There is one, and this went wrong.
    Failure(Failure),
}

/// Has the daemon of `home` carry out `args`. `None`: there is no daemon. If another command has the home open, it was waited
/// for as long as is worth waiting.
///
/// # Errors
/// When the daemon is of another version, or ends before the command has.
pub fn relay(home: &Path, args: &[OsString]) -> Result<Option<Exit>, Failure> {
    let until = Instant::now() + PATIENCE;
    loop {
        match begin(home, args) {
            Ok(stream) => return follow(stream).map(Some),
            Err(NotBegun::Failure(failure)) => return Err(failure),
            Err(NotBegun::Nobody) if is_locked(home) && Instant::now() < until => {
                std::thread::sleep(Duration::from_millis(20));
            }
            Err(NotBegun::Nobody) => return Ok(None),
        }
    }
}

/// Whether a daemon answers for `home`.
pub fn is_served(home: &Path) -> bool {
    let socket = address::of(home);
    address::is_ours(&socket) && UnixStream::connect(socket).is_ok()
}

/// Whether some process has the home open.
fn is_locked(home: &Path) -> bool {
    let lock = File::open(home.join("lock"));
    lock.is_ok_and(|file| matches!(file.try_lock_shared(), Err(std::fs::TryLockError::WouldBlock)))
}

fn begin(home: &Path, args: &[OsString]) -> Result<BufReader<UnixStream>, NotBegun> {
    let socket = address::of(home);
    if !address::is_ours(&socket) {
        return Err(NotBegun::Nobody);
    }
    let mut stream = UnixStream::connect(socket).map_err(|_| NotBegun::Nobody)?;
    let asked = ask(&mut stream, args);
    let mut stream = BufReader::with_capacity(PIECE_BYTES, stream);
    match asked.and_then(|()| wire::read_greeting(&mut stream)) {
        Ok(true) => {}
        Ok(false) => return Err(NotBegun::Failure(other_version("another version"))),
        Err(e) => return Err(not_begun(&e)),
    }
    match wire::receive(&mut stream) {
        Ok(Some(ToClient::Started)) => {}
        Ok(Some(ToClient::Refused(why))) => return Err(NotBegun::Failure(other_version(&why))),
        Ok(Some(_)) => return Err(NotBegun::Failure(other_version("something else"))),
        Ok(None) => return Err(NotBegun::Nobody),
        Err(e) => return Err(not_begun(&e)),
    }
    let untimed = stream.get_ref().set_read_timeout(None);
    untimed.map_err(|e| not_begun(&e))?;
    Ok(stream)
}

fn ask(stream: &mut UnixStream, args: &[OsString]) -> io::Result<()> {
    stream.set_read_timeout(Some(ANSWER_TIMEOUT))?;
    stream.set_write_timeout(Some(ANSWER_TIMEOUT))?;
    let bytes = |text: OsString| Bytes(text.into_vec());
    let request = Request {
        program: env!("CARGO_PKG_VERSION").to_owned(),
        args: args.iter().cloned().map(bytes).collect(),
        cwd: bytes(std::env::current_dir().unwrap_or_default().into_os_string()),
        width: console::width().map(|columns| u32::try_from(columns).unwrap_or(u32::MAX)),
        shows_progress: console::shows_progress(),
    };
    stream.write_all(GREETING)?;
    wire::send(stream, &ToDaemon::Command(request))
}

fn not_begun(error: &io::Error) -> NotBegun {
    match error.kind() {
        io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut => NotBegun::Failure(
            Failure::failed("the daemon of this home does not answer").hint("Stop it, and run the command again."),
        ),
        io::ErrorKind::InvalidData => NotBegun::Failure(other_version("something else")),
        // It ended before it began the command.
        _ => NotBegun::Nobody,
    }
}

fn other_version(what: &str) -> Failure {
    Failure::failed(format!(
        "the daemon of this home does not fit this program: it speaks {what}"
    ))
    .hint("Restart the daemon with this version.")
}

/// Passes the daemon's output on until the command has ended.
fn follow(mut stream: BufReader<UnixStream>) -> Result<Exit, Failure> {
    let gone = |e: Option<io::Error>| {
        let why = e.map_or(String::new(), |e| format!(": {e}"));
        Failure::failed(format!("the daemon went away before the command had ended{why}"))
            .hint("What has a receipt is recorded. See `gladhand history` before you run it again.")
    };
    let mut bar: Option<show::Bar> = None;
    let mut wanted: Option<Sender<()>> = None;
    loop {
        match wire::receive(&mut stream)
            .map_err(|e| gone(Some(e)))?
            .ok_or_else(|| gone(None))?
        {
            ToClient::Out(Bytes(bytes)) => show::bytes(&bytes)?,
            ToClient::Err(Bytes(bytes)) => {
                io::stderr().lock().write_all(&bytes).ok();
            }
            ToClient::Progress { what, done, total } => {
                bar.get_or_insert_with(show::Bar::at_once).tick(&what, done, total);
            }
            ToClient::ProgressOver => bar = None,
            ToClient::WantInput => {
                let wanted = match &wanted {
                    Some(wanted) => wanted,
                    None => wanted.insert(feed(stream.get_ref())?),
                };
                wanted.send(()).ok();
            }
            ToClient::Exit(code) => return Ok(Exit::from_code(code)),
            ToClient::Started | ToClient::Refused(_) => return Err(gone(None)),
        }
    }
}

/// A thread that sends a piece of stdin each time it is asked to: waiting for a person must not hold up the output.
fn feed(socket: &UnixStream) -> Result<Sender<()>, Failure> {
    let mut socket = socket.try_clone()?;
    let (sender, wanted) = channel();
    std::thread::spawn(move || send_pieces(&wanted, &mut socket));
    Ok(sender)
}

fn send_pieces(wanted: &Receiver<()>, socket: &mut UnixStream) {
    let mut piece = vec![0; PIECE_BYTES];
    while wanted.recv().is_ok() {
        let message = match io::stdin().lock().read(&mut piece) {
            Ok(read) => ToDaemon::Input(Bytes(piece.get(..read).unwrap_or_default().to_vec())),
            Err(e) => ToDaemon::InputFailed(e.to_string()),
        };
        if wire::send(socket, &message).is_err() {
            return;
        }
    }
}
