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
    pub out: String,
    /// What it said on stderr.
    pub err: String,
}

impl Ran {
    /// Takes down what came of a command. No run may ever panic or be ended by a signal, and all that it says is text.
    #[track_caller]
    pub fn of(command: String, output: Output) -> Self {
        let is_text = std::str::from_utf8(&output.stdout).is_ok();
        let ran = Self::of_any(command, output);
        assert!(ran.code.is_some(), "ended by a signal: {ran}");
        assert!(is_text, "stdout is not UTF-8: {ran}");
        ran
    }

    /// As [`Ran::of`], for a run that may have been killed in the middle of a word.
    #[track_caller]
    pub fn of_any(command: String, output: Output) -> Self {
        let ran = Self {
            command,
            code: output.status.code(),
            out: String::from_utf8_lossy(&output.stdout).into_owned(),
            err: String::from_utf8_lossy(&output.stderr).into_owned(),
        };
        assert!(!ran.err.contains("panicked"), "it panicked: {ran}");
        ran
    }

    /// The command line, for messages.
    pub fn line_of(command: &Command) -> String {
        let args: Vec<_> = command.get_args().map(|a| a.to_string_lossy()).collect();
        format!("gladhand {}", args.join(" "))
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
            assert!(self.err.contains(word), "'{word}' is missing from stderr of {self}");
        }
        self
    }

    /// All of these words must stand on stdout.
    #[track_caller]
    pub fn shows(self, words: &[&str]) -> Self {
        for word in words {
            assert!(self.out.contains(word), "'{word}' is missing from stdout of {self}");
        }
        self
    }

    /// Whether `words` stand on stdout, however its lines are broken.
    pub fn reads(&self, words: &str) -> bool {
        flat(&self.out).contains(words)
    }

    /// Whether `words` stand on stderr, however its lines are broken.
    pub fn tells(&self, words: &str) -> bool {
        flat(&self.err).contains(words)
    }

    /// Stdout as one JSON value.
    #[track_caller]
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.out).unwrap_or_else(|e| panic!("{e} in stdout of {self}"))
    }

    /// Stdout as a JSON value a line.
    #[track_caller]
    pub fn json_lines(&self) -> Vec<Value> {
        let read = |line: &str| serde_json::from_str(line).unwrap_or_else(|e| panic!("{e} in {line}\nof {self}"));
        self.out.lines().map(read).collect()
    }
}

impl std::fmt::Display for Ran {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let shown: String = self.out.chars().take(2_000).collect();
        write!(
            f,
            "`{}` (code {:?})\n--- stdout\n{shown}\n--- stderr\n{}",
            self.command, self.code, self.err
        )
    }
}

fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
