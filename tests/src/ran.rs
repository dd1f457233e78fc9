//! What came of running the binary: exit code, stdout, stderr, and words to judge them with.

use std::process::{Command, Output};

use serde_json::Value;

/// A run that has ended.
#[derive(Debug, Clone)]
pub struct Ran {
    /// What was run, for messages.
    pub command: String,
    /// The exit code; `None` when a signal ended it.
    pub code: Option<i32>,
    /// What it said on stdout.
    pub stdout: Vec<u8>,
    /// What it said on stderr.
    pub stderr: String,
}

impl Ran {
    /// Takes down what came of `command`. No run may ever panic or be ended by a signal.
    pub fn of(command: &Command, output: Output) -> Self {
        let ran = Self::of_any(command, output);
        assert!(ran.code.is_some(), "ended by a signal: {ran}");
        ran
    }

    /// As [`Ran::of`], for a run that may have been killed.
    pub fn of_any(command: &Command, output: Output) -> Self {
        let args: Vec<_> = command.get_args().map(|a| a.to_string_lossy()).collect();
        let ran = Self {
            command: format!("gladhand {}", args.join(" ")),
            code: output.status.code(),
            stdout: output.stdout,
            stderr: String::from_utf8_lossy(&output.stderr).into_owned(),
        };
        assert!(!ran.stderr.contains("panicked"), "it panicked: {ran}");
        ran
    }

    /// It must have ended with this code.
    #[track_caller]
    pub fn exits(self, code: i32) -> Self {
        assert_eq!(self.code, Some(code), "exit code of {self}");
        self
    }

    /// It must have done what it was asked to.
    #[track_caller]
    pub fn done(self) -> Self {
        self.exits(0)
    }

    /// All of these words must stand on stderr.
    #[track_caller]
    pub fn says(self, words: &[&str]) -> Self {
        for word in words {
            assert!(self.stderr.contains(word), "'{word}' is missing from stderr of {self}");
        }
        self
    }

    /// All of these words must stand on stdout.
    #[track_caller]
    pub fn shows(self, words: &[&str]) -> Self {
        let text = self.text();
        for word in words {
            assert!(text.contains(word), "'{word}' is missing from stdout of {self}");
        }
        self
    }

    /// Stdout as text.
    pub fn text(&self) -> String {
        String::from_utf8(self.stdout.clone()).unwrap_or_else(|_| panic!("stdout is not UTF-8: {self}"))
    }

    /// Stdout as one JSON value.
    #[track_caller]
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.stdout).unwrap_or_else(|e| panic!("{e} in stdout of {self}"))
    }

    /// Stdout as a JSON value a line.
    #[track_caller]
    pub fn json_lines(&self) -> Vec<Value> {
        let read = |line: &str| serde_json::from_str(line).unwrap_or_else(|e| panic!("{e} in {line}\nof {self}"));
        self.text().lines().map(read).collect()
    }
}

impl std::fmt::Display for Ran {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let stdout = String::from_utf8_lossy(&self.stdout);
        let shown: String = stdout.chars().take(2_000).collect();
        write!(
            f,
            "`{}` (code {:?})\n--- stdout\n{shown}\n--- stderr\n{}",
            self.command, self.code, self.stderr
        )
    }
}
