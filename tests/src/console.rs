//! The ```` ```console ```` blocks of a document, run and compared with what the document says.
//!
//! All blocks of a document run in one bash in one folder, in order, so that a later block builds on an earlier one. A line
//! `$ …` is a command, lines `> …` go on with it, the lines up to the next command are what it shows: stdout and stderr as a
//! terminal shows them. `…` alone on a line stands for any lines. A command must end with 0, unless the next one is `echo $?`.
//! Paths in the folder are shown from the folder.

use std::path::Path;
use std::process::{Command, Stdio};

use crate::normal::normal;
use crate::process::gladhand;

/// Any lines.
const ANY: &str = "…";

/// A command of a document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// The command, with the lines that go on with it.
    pub command: String,
    /// The lines that it shows, as the document says.
    pub shows: Vec<String>,
    /// In which line of the document these begin, counted from 0.
    pub begins: usize,
}

/// The commands of a document, in order.
pub fn steps(text: &str) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::new();
    let mut inside = false;
    for (number, line) in text.lines().enumerate() {
        if line.starts_with("```") {
            inside = line == "```console";
        } else if let Some(command) = line.strip_prefix("$ ").filter(|_| inside) {
            steps.push(Step {
                command: command.to_owned(),
                shows: Vec::new(),
                begins: number + 1,
            });
        } else if let Some(step) = steps.last_mut().filter(|_| inside) {
            match line.strip_prefix("> ").or((line == ">").then_some("")) {
                Some(more) if step.shows.is_empty() => {
                    step.command = format!("{}\n{more}", step.command);
                    step.begins += 1;
                }
                _ => step.shows.push(line.to_owned()),
            }
        }
    }
    steps
}

/// What a command showed, and its exit code.
#[derive(Debug)]
struct Shown {
    lines: Vec<String>,
    code: String,
}

/// Between what one command shows and what the next one does.
const MARK: &str = "@@ends with@@";

/// Runs the commands in one bash in `dir`.
fn run(steps: &[Step], dir: &Path) -> Vec<Shown> {
    let mut script = String::from("exec 2>&1\n");
    for step in steps {
        script.push_str(&step.command);
        script.push_str(&format!("\n_code=$?; printf '\\n{MARK}%s\\n' $_code; (exit $_code)\n"));
    }
    let file = dir.join(".script");
    std::fs::write(&file, script).unwrap();
    let mut paths = vec![gladhand().parent().unwrap().to_path_buf()];
    paths.extend(std::env::split_paths(&std::env::var_os("PATH").unwrap_or_default()));
    let mut command = Command::new("bash");
    command.arg("--norc").arg(&file).current_dir(dir).stdin(Stdio::null());
    command
        .env("PATH", std::env::join_paths(paths).unwrap())
        .env("TZ", "UTC");
    for name in ["GLADHAND_HOME", "RUST_LOG", "RUST_BACKTRACE", "BASH_ENV", "ENV"] {
        command.env_remove(name);
    }
    let output = command.output().expect("bash starts");
    let text = String::from_utf8(output.stdout).expect("what is shown is text");
    // The reader is in that folder too.
    let text = text.replace(&format!("{}/", dir.display()), "");
    assert!(!text.contains("panicked"), "{text}");
    let mut parts: Vec<Shown> = Vec::new();
    let mut lines: Vec<String> = Vec::new();
    for line in text.lines() {
        match line.strip_prefix(MARK) {
            Some(code) => {
                // The line break that makes the mark begin a line.
                if lines.last().is_some_and(String::is_empty) {
                    lines.pop();
                }
                parts.push(Shown {
                    lines: std::mem::take(&mut lines),
                    code: code.to_owned(),
                });
            }
            None => lines.push(line.trim_end().to_owned()),
        }
    }
    assert_eq!(parts.len(), steps.len(), "each command ends: {text}");
    parts
}

/// Whether `shown` is what `wanted` says.
fn fits(wanted: &[String], shown: &[String]) -> bool {
    match wanted.split_first() {
        None => shown.is_empty(),
        Some((first, rest)) if first == ANY => (0..=shown.len()).any(|skipped| fits(rest, &shown[skipped..])),
        Some((first, rest)) => shown
            .split_first()
            .is_some_and(|(line, others)| same(first, line) && fits(rest, others)),
    }
}

/// Equal but for what differs from run to run, and for the width that this has.
fn same(wanted: &str, shown: &str) -> bool {
    let words = |line: &str| normal(line).split_whitespace().map(str::to_owned).collect::<Vec<_>>();
    let indent = |line: &str| line.len() - line.trim_start().len();
    indent(wanted) == indent(shown) && words(wanted) == words(shown)
}

/// Runs the document's commands and fails where they show something else; with `BLESS=1` writes what they show into it.
pub fn check(document: &Path) {
    let text = std::fs::read_to_string(document).unwrap();
    let steps = steps(&text);
    assert!(!steps.is_empty(), "{} has no commands", document.display());
    let dir = tempfile::tempdir().unwrap();
    let shown = run(&steps, &dir.path().canonicalize().unwrap());
    let wrong: Vec<(&Step, &Shown)> = steps
        .iter()
        .zip(&shown)
        .filter(|(step, shown)| !fits(&step.shows, &shown.lines))
        .collect();
    if std::env::var_os("BLESS").is_some() {
        std::fs::write(document, blessed(&text, &wrong)).unwrap();
    } else if let Some((step, shown)) = wrong.first() {
        panic!(
            "{}:{}: `{}` shows something else (BLESS=1 writes it down)\nwanted:\n{}\nshown:\n{}",
            document.display(),
            step.begins,
            step.command,
            step.shows.join("\n"),
            shown.lines.join("\n")
        );
    }
    for (number, (step, shown)) in steps.iter().zip(&shown).enumerate() {
        let is_asked = steps.get(number + 1).is_some_and(|next| next.command == "echo $?");
        assert!(
            shown.code == "0" || is_asked,
            "{}:{}: `{}` ends with {}: {}",
            document.display(),
            step.begins,
            step.command,
            shown.code,
            shown.lines.join("\n")
        );
    }
}

/// The document with what the commands really show.
fn blessed(text: &str, wrong: &[(&Step, &Shown)]) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    for (step, shown) in wrong.iter().rev() {
        lines.splice(step.begins..step.begins + step.shows.len(), shown.lines.iter().cloned());
    }
    lines.join("\n") + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: &str) -> Vec<String> {
        text.lines().map(str::to_owned).collect()
    }

    #[test]
    fn commands_are_read_with_what_goes_on_with_them() {
        let text = "words\n```console\n$ cat > x <<'END'\n> a\n> END\n$ cat x\na\n```\n$ none\n```text\n$ none\n```\n";
        let steps = steps(text);
        let brief: Vec<_> = steps.iter().map(|s| (s.command.as_str(), s.begins)).collect();
        assert_eq!(brief, [("cat > x <<'END'\na\nEND", 5), ("cat x", 6)]);
        assert_eq!(steps[1].shows, ["a"]);
    }

    #[test]
    fn lines_fit_or_not() {
        assert!(fits(&lines("a\n…\nz"), &lines("a\nb\nc\nz")));
        assert!(fits(&lines("a\n…\nz"), &lines("a\nz")));
        assert!(!fits(&lines("a\n…\nz"), &lines("a\nb")));
        assert!(fits(
            &lines("recorded  0f6e2ad1c37b  3.0"),
            &lines("recorded  aaaabbbbcccc   3.0")
        ));
        assert!(!fits(&lines("3 facts"), &lines("4 facts")));
        assert!(!fits(&lines("a\n"), &lines("a\nb")));
    }

    #[test]
    fn what_differs_is_written_down() {
        let text = "```console\n$ one\nold\n$ two\nkept\n```\n";
        let steps = steps(text);
        let shown = Shown {
            lines: lines("new\nlines"),
            code: "0".into(),
        };
        assert_eq!(
            blessed(text, &[(&steps[0], &shown)]),
            "```console\n$ one\nnew\nlines\n$ two\nkept\n```\n"
        );
    }
}
