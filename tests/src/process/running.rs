//! A command that has not ended yet.

use std::io::{BufReader, Read};
use std::process::{Child, ChildStderr, ChildStdin, ChildStdout, Command, ExitStatus, Output, Stdio};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

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
        Self::spawn_for(command, DEADLINE)
    }

    fn spawn_for(command: &mut Command, at_most: Duration) -> Self {
        command
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        let child = command.spawn().expect("the binary starts");
        Self {
            watchdog: Some(Watchdog::of(&child, at_most)),
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
            assert!(!watchdog.off(), "{} has not ended in time", self.command);
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
    fn of(child: &Child, at_most: Duration) -> Self {
        let pid = pid(child);
        let (over, is_over) = channel();
        let thread = std::thread::spawn(move || {
            let is_late = is_over.recv_timeout(at_most) == Err(RecvTimeoutError::Timeout);
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

#[cfg(test)]
mod tests {
    use super::*;
    use rustix::process::test_kill_process;

    fn sleeper() -> Command {
        let mut command = Command::new("sleep");
        command.arg("1000");
        command
    }

    #[test]
    fn what_does_not_end_in_time_is_killed_and_fails_the_test() {
        let mut late = Running::spawn_for(&mut sleeper(), Duration::from_millis(20));
        let pid = pid(&late.child);
        let waited = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| late.wait()));
        let why = waited.unwrap_err();
        assert!(
            why.downcast_ref::<String>()
                .unwrap()
                .contains("1000 has not ended in time")
        );
        drop(late);
        assert!(test_kill_process(pid).is_err(), "it is gone");
    }

    #[test]
    fn what_is_dropped_does_not_live_on() {
        let running = Running::spawn(&mut sleeper());
        let pid = pid(&running.child);
        test_kill_process(pid).unwrap();
        drop(running);
        assert!(test_kill_process(pid).is_err(), "it is gone");
    }

    #[test]
    fn what_it_says_on_both_pipes_is_heard_however_much_it_is() {
        let mut command = Command::new("sh");
        command.args(["-c", "head -c 300000 /dev/zero >&2; head -c 300000 /dev/zero; exit 3"]);
        let output = Running::spawn(&mut command).output();
        let said = (output.status.code(), output.stdout.len(), output.stderr.len());
        assert_eq!(said, (Some(3), 300_000, 300_000));
    }
}
