//! Homes as they are in Tolland yard, and what is asked of them at work.

use std::path::PathBuf;

use gladhand_tests::process::{Running, command};
use gladhand_tests::{Home, Ran, fleet};
use serde_json::Value;
use tempfile::TempDir;

/// A folder with homes in it.
pub struct Yard {
    dir: TempDir,
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
        let home = Home::made(self.file(name), name, more);
        home.configure("yard = \"\"", "yard = \"Tolland\"");
        home.configure("fleet = \"\"", "fleet = \"Larkspur Freight\"");
        home
    }

    /// Takes `laptop` onto the roster of `depot`.
    pub fn enrol(&self, depot: &Home, laptop: &Home) {
        fleet::join(depot, laptop);
        self.carry(laptop, depot);
        self.carry(depot, laptop);
    }

    /// Carries everything of `from` to `to` by a file.
    pub fn carry(&self, from: &Home, to: &Home) {
        let file = self.file("carried.bundle");
        from.write_bundle(&file);
        to.read_bundle(&file).done();
        std::fs::remove_file(file).unwrap();
    }
}

/// What is asked of a home at work.
pub trait AtWork {
    /// The clearance of a job: the JSON's answer, held against the first word for people.
    fn clearance(&self, job: &str) -> String;
    /// The open findings, as `rule subject`.
    fn open_findings(&self) -> Vec<String>;
    /// The finding of a rule, whatever its status.
    fn finding(&self, rule: &str) -> Value;
}

impl AtWork for Home {
    fn clearance(&self, job: &str) -> String {
        let answer = self.json(&format!("clearance {job}"))["answer"]
            .as_str()
            .unwrap()
            .to_owned();
        let text = self.good(&format!("clearance {job}")).out;
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

    fn open_findings(&self) -> Vec<String> {
        let found = self.json("findings --open");
        let each = found["findings"].as_array().unwrap().iter();
        each.map(|f| format!("{} {}", f["rule"].as_str().unwrap(), f["subject"].as_str().unwrap()))
            .collect()
    }

    fn finding(&self, rule: &str) -> Value {
        let found = self.json(&format!("findings --rule {rule}"))["findings"].clone();
        assert_eq!(found.as_array().map(Vec::len), Some(1), "{rule}: {found}");
        found[0].clone()
    }
}

/// Runs the binary where no home is named.
pub fn without_home(args: &[&str]) -> Ran {
    Running::spawn(command().args(args)).ran()
}
