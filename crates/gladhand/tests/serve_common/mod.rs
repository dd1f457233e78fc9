//! Real homes, the real binary, real daemons. Waiting is always for something, and bounded.

#![allow(dead_code, missing_docs)]

use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

/// No wait in a test is longer than this; none is meant to come near it.
pub const DEADLINE: Duration = Duration::from_secs(180);

pub fn binary() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_gladhand"));
    command.env_remove("GLADHAND_HOME").env_remove("GLADHAND_LOG");
    command
}

/// Waits until `is_so`, or fails with `what`.
pub fn until(what: &str, is_so: impl FnMut() -> bool) {
    until_in(what, DEADLINE, is_so);
}

pub fn until_in(what: &str, deadline: Duration, mut is_so: impl FnMut() -> bool) {
    let end = Instant::now() + deadline;
    while !is_so() {
        assert!(Instant::now() < end, "waited in vain: {what}");
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// A home that goes away with the test.
pub struct Home {
    pub path: PathBuf,
    pub _dir: Option<tempfile::TempDir>,
}

impl Home {
    pub fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("home");
        Self::at(path, Some(dir))
    }

    pub fn at(path: PathBuf, dir: Option<tempfile::TempDir>) -> Self {
        let home = Self { path, _dir: dir };
        let made = home.run(&["setup", "--name", "mara", "--person", "mara"]);
        assert!(made.status.success(), "{}", text(&made.stderr));
        // These tests are about one machine.
        let config = home.path.join("config.toml");
        let quiet = std::fs::read_to_string(&config)
            .unwrap()
            .replace("discover = true", "discover = false");
        std::fs::write(&config, quiet).unwrap();
        home
    }

    pub fn command(&self, args: &[&str]) -> Command {
        let mut command = binary();
        command.arg("--home").arg(&self.path).args(args);
        command
    }

    pub fn run(&self, args: &[&str]) -> Output {
        self.run_with(args, b"")
    }

    pub fn run_with(&self, args: &[&str], stdin: &[u8]) -> Output {
        feed(&mut self.command(args), stdin)
    }

    /// Facts that are recorded here, as `history --json` tells them.
    pub fn notes(&self) -> Vec<String> {
        let output = self.run(&["history", "--json"]);
        assert!(output.status.success(), "{}", text(&output.stderr));
        let history: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        let note = |line: &serde_json::Value| line["fact"]["text"].as_str().map(str::to_owned);
        history["rows"].as_array().unwrap().iter().filter_map(note).collect()
    }

    pub fn inbox(&self) -> PathBuf {
        self.path.join("inbox")
    }

    /// Drops a file as a careful program does: beside, then renamed into place.
    pub fn drop_file(&self, name: &str, bytes: &[u8]) {
        let temporary = self.path.join(format!("{name}.coming"));
        std::fs::write(&temporary, bytes).unwrap();
        std::fs::rename(&temporary, self.inbox().join(name)).unwrap();
    }

    pub fn is_done(&self, name: &str) -> bool {
        self.inbox().join("done").join(name).exists() && !self.inbox().join(name).exists()
    }

    pub fn wait_done(&self, name: &str) {
        self.wait_done_in(name, DEADLINE);
    }

    pub fn wait_done_in(&self, name: &str, deadline: Duration) {
        until_in(&format!("{name} in done"), deadline, || self.is_done(name));
    }

    pub fn rejected(&self, name: &str) -> Vec<serde_json::Value> {
        let file = self.inbox().join("rejected").join(format!("{name}.rejected.jsonl"));
        let text = std::fs::read_to_string(&file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
        text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
    }

    pub fn log(&self) -> String {
        std::fs::read_to_string(self.path.join("daemon.log")).unwrap_or_default()
    }

    pub fn socket(&self) -> PathBuf {
        self.path.join("control.sock")
    }

    pub fn serve(&self) -> Daemon {
        Daemon::start(&mut self.command(&["serve"]))
    }
}

pub fn feed(command: &mut Command, stdin: &[u8]) -> Output {
    command
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    let mut pipe = child.stdin.take().unwrap();
    let stdin = stdin.to_vec();
    let writer = std::thread::spawn(move || {
        // The command may end before it has read everything.
        pipe.write_all(&stdin).ok();
    });
    let output = child.wait_with_output().unwrap();
    writer.join().unwrap();
    output
}

pub fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

pub fn note_line(text: &str) -> String {
    format!("{{\"kind\":\"note\",\"text\":\"{text}\",\"at\":\"2026-03-02T08:00:00Z\"}}\n")
}

/// A daemon that is killed with the test.
pub struct Daemon {
    pub child: Child,
    /// The line that it printed when it was ready.
    pub ready: String,
    pub stderr: std::sync::Arc<std::sync::Mutex<String>>,
}

impl Daemon {
    /// Starts it and waits until it is ready.
    pub fn start(command: &mut Command) -> Self {
        let mut daemon = Self::spawn(command);
        let mut line = String::new();
        BufReader::new(daemon.child.stdout.take().unwrap())
            .read_line(&mut line)
            .unwrap();
        assert!(
            !line.is_empty(),
            "the daemon did not start: {}",
            daemon.stderr.lock().unwrap()
        );
        daemon.ready = line;
        daemon
    }

    pub fn spawn(command: &mut Command) -> Self {
        command
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        let mut child = command.spawn().unwrap();
        let stderr = std::sync::Arc::new(std::sync::Mutex::new(String::new()));
        let kept = std::sync::Arc::clone(&stderr);
        let mut pipe = child.stderr.take().unwrap();
        std::thread::spawn(move || {
            let mut piece = [0; 4096];
            while let Ok(read @ 1..) = pipe.read(&mut piece) {
                kept.lock().unwrap().push_str(&text(&piece[..read]));
            }
        });
        Self {
            child,
            ready: String::new(),
            stderr,
        }
    }

    pub fn signal(&self, name: &str) {
        let pid = self.child.id().to_string();
        let sent = Command::new("kill").args([name, &pid]).status().unwrap();
        assert!(sent.success());
    }

    /// As a power cut for the process: nothing of it runs any more.
    pub fn kill_9(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// Waits for its end.
    pub fn wait(&mut self) -> i32 {
        let mut code = None;
        until("the daemon ends", || {
            code = self.child.try_wait().unwrap();
            code.is_some()
        });
        code.and_then(|code| code.code()).unwrap_or(-1)
    }

    /// Ends it in order. Returns how long that took.
    pub fn stop(mut self) -> Duration {
        let started = Instant::now();
        self.signal("-TERM");
        assert_eq!(self.wait(), 0, "{}", self.stderr.lock().unwrap());
        started.elapsed()
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        self.child.kill().ok();
        self.child.wait().ok();
    }
}

/// As `path` with everything in it, by name.
pub fn names(path: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(path)
        .map(|dir| {
            dir.flatten()
                .map(|e| e.file_name().to_string_lossy().into_owned())
                .collect()
        })
        .unwrap_or_default();
    names.sort();
    names
}
