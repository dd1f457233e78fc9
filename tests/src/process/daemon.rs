//! A daemon of a home.

use std::io::{BufRead, BufReader, Read};
use std::net::SocketAddr;
use std::process::{Child, ChildStderr, ChildStdout, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

pub use rustix::process::Signal;
use rustix::process::kill_process;

use super::running::pid;
use super::{DEADLINE, until};

/// A daemon that is killed when it is dropped.
pub struct Daemon {
    child: Child,
    /// The line that it printed when it was ready; empty when nobody has waited for it.
    pub ready: String,
    lines: Receiver<String>,
    said: Arc<Mutex<String>>,
    listener: Option<JoinHandle<()>>,
}

impl Daemon {
    /// Starts it and waits until it is ready.
    #[track_caller]
    pub fn start(command: &mut Command) -> Self {
        Self::try_start(command).unwrap_or_else(|said| panic!("the daemon did not start: {said}"))
    }

    /// Starts it and waits until it is ready, or has ended without having been.
    ///
    /// # Errors
    /// What it said instead.
    pub fn try_start(command: &mut Command) -> Result<Self, String> {
        let mut daemon = Self::spawn(command);
        match daemon.lines.recv_timeout(DEADLINE) {
            Ok(line) => {
                daemon.ready = line;
                Ok(daemon)
            }
            Err(_) => {
                daemon.child.kill().ok();
                daemon.child.wait().ok();
                drop(daemon.listener.take().map(JoinHandle::join));
                Err(daemon.log())
            }
        }
    }

    /// Starts it without waiting for anything.
    pub fn spawn(command: &mut Command) -> Self {
        command
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        let mut child = command.spawn().expect("the binary starts");
        let lines = read_lines(child.stdout.take().unwrap());
        let said = Arc::<Mutex<String>>::default();
        let listener = keep(child.stderr.take().unwrap(), Arc::clone(&said));
        Self {
            child,
            ready: String::new(),
            lines,
            said,
            listener: Some(listener),
        }
    }

    /// Its number in the system.
    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// What it has said on stderr so far.
    pub fn log(&self) -> String {
        self.said.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Where it listens for peers, as its line says.
    #[track_caller]
    pub fn listens_at(&self) -> SocketAddr {
        let at = self.ready.rsplit(' ').find_map(|word| word.trim().parse().ok());
        at.unwrap_or_else(|| panic!("no address in {:?}", self.ready))
    }

    /// Sends it a signal.
    pub fn signal(&self, signal: Signal) {
        kill_process(pid(&self.child), signal).unwrap();
    }

    /// As a power cut for the process: nothing of it runs any more.
    pub fn kill_9(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// Waits for its end, and for the last of what it says. Returns its exit code.
    #[track_caller]
    pub fn wait(&mut self) -> i32 {
        let mut status = None;
        until("the daemon ends", || {
            status = self.child.try_wait().unwrap();
            status.is_some()
        });
        drop(self.listener.take().map(JoinHandle::join));
        status.and_then(|status| status.code()).unwrap_or(-1)
    }

    /// Ends it in order. Returns how long that took.
    #[track_caller]
    pub fn stop(mut self) -> Duration {
        let started = Instant::now();
        self.signal(Signal::TERM);
        assert_eq!(self.wait(), 0, "{}", self.log());
        started.elapsed()
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        self.child.kill().ok();
        self.child.wait().ok();
    }
}

/// The lines of its stdout, read whether or not anybody wants them: a full pipe would hold it up.
fn read_lines(stdout: ChildStdout) -> Receiver<String> {
    let (sender, lines) = channel();
    std::thread::spawn(move || {
        let mut stdout = BufReader::new(stdout);
        let mut line = String::new();
        while let Ok(1..) = stdout.read_line(&mut line) {
            // Fails only when the daemon has been dropped.
            sender.send(std::mem::take(&mut line)).ok();
        }
    });
    lines
}

fn keep(mut stderr: ChildStderr, said: Arc<Mutex<String>>) -> JoinHandle<()> {
    std::thread::spawn(move || {
        let mut piece = [0; 4096];
        while let Ok(read @ 1..) = stderr.read(&mut piece) {
            let text = String::from_utf8_lossy(&piece[..read]);
            said.lock().unwrap_or_else(PoisonError::into_inner).push_str(&text);
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shell(script: &str) -> Command {
        let mut command = Command::new("sh");
        command.args(["-c", script]);
        command
    }

    #[test]
    fn what_is_never_ready_says_why() {
        let started = Daemon::try_start(&mut shell("echo no such home >&2; exit 2"));
        assert_eq!(started.err().unwrap(), "no such home\n");
    }

    #[test]
    fn its_line_tells_where_it_listens_and_its_end_is_waited_for() {
        let daemon = Daemon::start(&mut shell("echo serving, listening at 127.0.0.1:7401; exec sleep 1000"));
        assert_eq!(daemon.listens_at().port(), 7401);
        let mut daemon = daemon;
        daemon.signal(Signal::KILL);
        assert_eq!(daemon.wait(), -1);
    }
}
