//! Homes for the tests of the trade: the real binary, run as a person runs it.

#![allow(dead_code, reason = "not every test uses all of it")]
#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;
use tempfile::TempDir;

/// A folder with homes in it.
pub struct Yard {
    dir: TempDir,
}

/// One home.
#[derive(Clone)]
pub struct Home {
    pub path: PathBuf,
    pub name: String,
}

/// What a run said.
#[derive(Debug)]
pub struct Ran {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Yard {
    pub fn new() -> Self {
        Self {
            dir: TempDir::new().unwrap(),
        }
    }

    pub fn file(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    /// A laptop of `person`, in Tolland yard, for Larkspur Freight.
    pub fn laptop(&self, name: &str, person: &str) -> Home {
        self.home(name, &["--person", person])
    }

    pub fn depot(&self) -> Home {
        self.home("harrow-street", &["--depot"])
    }

    fn home(&self, name: &str, more: &[&str]) -> Home {
        let home = Home {
            path: self.file(name),
            name: name.to_owned(),
        };
        home.good(&[&["setup", "--name", name], more].concat());
        let config = home.path.join("config.toml");
        let text = std::fs::read_to_string(&config).unwrap();
        let text = text
            .replace("yard = \"\"", "yard = \"Tolland\"")
            .replace("fleet = \"\"", "fleet = \"Larkspur Freight\"");
        std::fs::write(config, text).unwrap();
        home
    }

    /// Takes `laptop` onto the roster of `depot`.
    pub fn enrol(&self, depot: &Home, laptop: &Home) {
        let invite = depot.good(&["invite"]).out;
        laptop.good(&["join", invite.trim()]);
        self.carry(laptop, depot);
        self.carry(depot, laptop);
    }

    /// Carries everything of `from` to `to` by a file.
    pub fn carry(&self, from: &Home, to: &Home) {
        let file = self.file(&format!("{}-to-{}.bundle", from.name, to.name));
        let file = file.to_str().unwrap();
        from.good(&["bundle", "write", file]);
        to.good(&["bundle", "read", file]);
        std::fs::remove_file(file).unwrap();
    }
}

impl Home {
    /// Runs a command in this home.
    pub fn run(&self, args: &[&str]) -> Ran {
        run(Some(&self.path), args)
    }

    /// Runs a command that must end with 0.
    pub fn good(&self, args: &[&str]) -> Ran {
        let ran = self.run(args);
        assert_eq!(ran.code, 0, "gladhand {args:?}\n{}\n{}", ran.out, ran.err);
        ran
    }

    /// As [`Home::good`], from one line without quotes in it.
    pub fn line(&self, line: &str) -> Ran {
        self.good(&line.split_whitespace().collect::<Vec<_>>())
    }

    /// The JSON that a command prints.
    pub fn json(&self, line: &str) -> Value {
        let ran = self.line(&format!("{line} --json"));
        serde_json::from_str(&ran.out).unwrap_or_else(|e| panic!("{line}: {e}\n{}", ran.out))
    }

    /// The clearance of a job: the JSON's answer, held against the first word for people.
    pub fn clearance(&self, job: &str) -> String {
        let answer = self.json(&format!("clearance {job}"))["answer"]
            .as_str()
            .unwrap()
            .to_owned();
        let text = self.line(&format!("clearance {job}")).out;
        let first = text.lines().next().unwrap();
        let word = match answer.as_str() {
            "clear" => "CLEAR",
            "blocked" => "BLOCKED",
            "not-decidable" => "NOT DECIDABLE",
            "next" => "NEXT: ",
            "unknown" => "NOT ENOUGH RECORDED: ",
            other => panic!("answer {other}"),
        };
        assert!(first.starts_with(word), "{answer}: {first}");
        assert!(
            text.trim_end().ends_with(
                "Site rules, local codes and licensed practice come first. This is a reminder, not a permission."
            ),
            "{text}"
        );
        answer
    }

    /// The open findings, as `rule subject`.
    pub fn open_findings(&self) -> Vec<String> {
        let found = self.json("findings --open");
        let each = found["findings"].as_array().unwrap().iter();
        each.map(|f| format!("{} {}", f["rule"].as_str().unwrap(), f["subject"].as_str().unwrap()))
            .collect()
    }

    /// The finding of a rule, whatever its status.
    pub fn finding(&self, rule: &str) -> Value {
        let found = self.json(&format!("findings --rule {rule}"))["findings"].take();
        assert_eq!(found.as_array().map(Vec::len), Some(1), "{rule}: {found}");
        found[0].clone()
    }
}

/// Runs the binary.
pub fn run(home: Option<&Path>, args: &[&str]) -> Ran {
    let mut command = Command::new(env!("CARGO_BIN_EXE_gladhand"));
    command.args(args).env_remove("GLADHAND_HOME").env("TZ", "UTC");
    if let Some(home) = home {
        command.env("GLADHAND_HOME", home);
    }
    let output = command.output().unwrap();
    Ran {
        code: output.status.code().unwrap_or(-1),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

impl Ran {
    /// Whether stderr holds `words`, however its lines are broken.
    pub fn tells(&self, words: &str) -> bool {
        flat(&self.err).contains(words)
    }

    /// Whether stdout holds `words`, however its lines are broken.
    pub fn says(&self, words: &str) -> bool {
        flat(&self.out).contains(words)
    }
}

fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
