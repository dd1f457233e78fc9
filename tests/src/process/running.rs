//! A command that has not ended yet.

use std::io::{BufReader, Read};
use std::process::{Child, ChildStderr, ChildStdin, ChildStdout, Command, ExitStatus, Output, Stdio};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;

use rustix::process::{Pid, Signal, WaitId, WaitIdOptions, kill_process, waitid};

use super::{DEADLINE, Ran};

/// A run of the binary, with pipes on all three sides. It is killed when it is dropped, and when it has not ended within [`DEADLINE`]:
/// so a test that reads from it is not held up for ever either.
pub struct Running {
    child: Child,
    command: String,
    watchdog: Option<Watchdog>,
}

impl Running {
    /// Starts a command.
    pub fn spawn(command: &mut Command) -> Self {
        command
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        let child = command.spawn().expect("the binary starts");
        Self {
            watchdog: Some(Watchdog::of(&child)),
            command: Ran::line_of(command),
            child,
        }
    }

    /// Its number in the system.
    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// Its stdin, which closes when it is dropped.
    pub fn stdin(&mut self) -> ChildStdin {
        self.child.stdin.take().expect("nobody has its stdin yet")
    }

    /// Its stdout.
    pub fn stdout(&mut self) -> BufReader<ChildStdout> {
        BufReader::new(self.child.stdout.take().expect("nobody has its stdout yet"))
    }

    /// Its stderr.
    pub fn stderr(&mut self) -> ChildStderr {
        self.child.stderr.take().expect("nobody has its stderr yet")
    }

    /// Waits for its end. Its stdin is closed if nobody has taken it.
    #[track_caller]
    pub fn wait(&mut self) -> ExitStatus {
        drop(self.child.stdin.take());
        if let Some(watchdog) = self.watchdog.take() {
            // Not reaped here: until the watchdog is off, its number must not be given to another process.
            let ended = WaitIdOptions::EXITED | WaitIdOptions::NOWAIT;
            waitid(WaitId::Pid(pid(&self.child)), ended).unwrap();
            assert!(!watchdog.off(), "{} has not ended within {DEADLINE:?}", self.command);
        }
        self.child.wait().unwrap()
    }

    /// Kills it with signal 9, and waits for its end.
    pub fn kill(&mut self) -> ExitStatus {
        self.child.kill().unwrap();
        self.wait()
    }

    /// Waits for its end and returns what it has said on the pipes that nobody has taken.
    #[track_caller]
    pub fn output(mut self) -> Output {
        drop(self.child.stdin.take());
        let errors = self
            .child
            .stderr
            .take()
            .map(|pipe| std::thread::spawn(move || all(pipe)));
        let stdout = self.child.stdout.take().map(all).unwrap_or_default();
        Output {
            status: self.wait(),
            stdout,
            stderr: errors.map(|errors| errors.join().unwrap()).unwrap_or_default(),
        }
    }

    /// As [`Running::output`], to be judged.
    #[track_caller]
    pub fn ran(self) -> Ran {
        let command = self.command.clone();
        Ran::of(command, self.output())
    }

    /// As [`Running::ran`], for a run that may have been killed.
    #[track_caller]
    pub fn ran_or_killed(self) -> Ran {
        let command = self.command.clone();
        Ran::of_any(command, self.output())
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        self.child.kill().ok();
        if let Some(watchdog) = self.watchdog.take() {
            watchdog.off();
        }
        self.child.wait().ok();
    }
}

fn all(mut pipe: impl Read) -> Vec<u8> {
    let mut bytes = Vec::new();
    pipe.read_to_end(&mut bytes).unwrap();
    bytes
}

pub(super) fn pid(child: &Child) -> Pid {
    Pid::from_child(child)
}

/// Kills a process that has not ended in time.
struct Watchdog {
    over: Sender<()>,
    thread: JoinHandle<bool>,
}

impl Watchdog {
    fn of(child: &Child) -> Self {
        let pid = pid(child);
        let (over, is_over) = channel();
        let thread = std::thread::spawn(move || {
            let is_late = is_over.recv_timeout(DEADLINE) == Err(RecvTimeoutError::Timeout);
            if is_late {
                kill_process(pid, Signal::KILL).ok();
            }
            is_late
        });
        Self { over, thread }
    }

    /// Returns whether it had to kill.
    fn off(self) -> bool {
        drop(self.over);
        self.thread.join().unwrap()
    }
}
