//! A home folder, and the binary run in it.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use serde_json::Value;

use crate::Ran;
use crate::binary::gladhand;

/// A home folder. It is not removed here: it lies in the temporary folder of a test.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Home {
    /// The folder.
    pub path: PathBuf,
}

impl Home {
    /// The home at `path`, whether it is there or not.
    pub fn at(path: impl Into<PathBuf>) -> Self {
        Self { path: path.into() }
    }

    /// Makes a laptop's home.
    pub fn laptop(path: impl Into<PathBuf>, name: &str, person: &str) -> Self {
        let home = Self::at(path);
        home.run(&["setup", "--name", name, "--person", person]).done();
        home
    }

    /// Makes a depot's home.
    pub fn depot(path: impl Into<PathBuf>, name: &str, person: &str) -> Self {
        let home = Self::at(path);
        home.run(&["setup", "--depot", "--name", name, "--person", person])
            .done();
        home
    }

    /// The binary with this home, ready to be started. Whoever runs the tests has no say in it by his environment.
    pub fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(gladhand());
        command.arg("--home").arg(&self.path).args(args);
        command.env_remove("GLADHAND_HOME").env_remove("RUST_LOG");
        // A backtrace on stderr would hide what a person sees.
        command.env_remove("RUST_BACKTRACE");
        command
    }

    /// Runs it to its end.
    #[track_caller]
    pub fn run(&self, args: &[&str]) -> Ran {
        let mut command = self.command(args);
        let output = command.stdin(Stdio::null()).output().expect("the binary starts");
        Ran::of(&command, output)
    }

    /// Runs it to its end with `input` on stdin.
    #[track_caller]
    pub fn feed(&self, args: &[&str], input: impl AsRef<[u8]>) -> Ran {
        let mut command = self.command(args);
        let mut child = spawn(&mut command);
        let mut pipe = child.stdin.take().unwrap();
        let input = input.as_ref().to_vec();
        // It may end, or fill its stdout, before it has read everything.
        let feeder = std::thread::spawn(move || pipe.write_all(&input).ok());
        let output = child.wait_with_output().unwrap();
        feeder.join().unwrap();
        Ran::of(&command, output)
    }

    /// Starts it with pipes on all three sides.
    pub fn start(&self, args: &[&str]) -> Child {
        spawn(&mut self.command(args))
    }

    /// Records these lines. Every one must be good.
    #[track_caller]
    pub fn record(&self, lines: &[String]) -> Ran {
        self.feed(&["record", "--json", "-"], lines.join("\n")).done()
    }

    /// The findings, byte for byte.
    #[track_caller]
    pub fn findings(&self) -> String {
        self.run(&["findings", "--json"]).done().text()
    }

    /// The report as JSON, byte for byte.
    #[track_caller]
    pub fn report(&self) -> String {
        self.run(&["report", "--format", "json"]).done().text()
    }

    /// The history that these arguments select.
    #[track_caller]
    pub fn history(&self, args: &[&str]) -> Vec<Value> {
        let shown = self.run(&[&["history", "--json"], args].concat()).done().json();
        shown.as_array().expect("a list").clone()
    }

    /// The ids of all facts that are held, device by device: each fact of the whole history names all that are
    /// concurrent with it, which is most of them when devices work apart.
    #[track_caller]
    pub fn fact_ids(&self) -> Vec<String> {
        let devices = self.status()["devices"].as_array().unwrap().clone();
        let keys = devices.iter().map(|d| d["device"].as_str().unwrap().to_owned());
        keys.flat_map(|key| self.history(&["--device", &key]))
            .map(id_of)
            .collect()
    }

    /// The status.
    #[track_caller]
    pub fn status(&self) -> Value {
        self.run(&["status", "--json"]).done().json()
    }

    /// What is held: log to head.
    #[track_caller]
    pub fn vector(&self) -> Value {
        self.status()["vector"].clone()
    }

    /// The version vector as `bundle write --since` wants it.
    #[track_caller]
    pub fn since(&self) -> String {
        self.status()["since"].as_str().unwrap().to_owned()
    }

    /// The whole store must read back as it was written.
    #[track_caller]
    pub fn verifies(&self) {
        self.run(&["verify"]).done().shows(&["everything fits"]);
    }

    /// Writes everything into a bundle beside the home's folder.
    #[track_caller]
    pub fn write_bundle(&self, file: &Path) {
        self.run(&["bundle", "write", file.to_str().unwrap()]).done();
    }

    /// Reads a bundle.
    #[track_caller]
    pub fn read_bundle(&self, file: &Path) -> Ran {
        self.run(&["bundle", "read", file.to_str().unwrap()])
    }

    /// Copies the folder as `cp -r` does: the copy is another home with the same key.
    pub fn copied(&self, to: impl Into<PathBuf>) -> Self {
        let copy = Self::at(to);
        copy_folder(&self.path, &copy.path);
        copy
    }

    /// Copies the folder and lets the copy believe that it is the original: for tests that need the same home many
    /// times, of which only one is ever used.
    pub fn stand_in(&self, to: impl Into<PathBuf>) -> Self {
        let copy = self.copied(to);
        let mut opened = gladhand_store::Home::open(&copy.path, &gladhand::system::machine_id()).unwrap();
        let log = opened.writes().unwrap();
        opened.settle_as(log).unwrap();
        copy
    }

    /// A file of the home.
    pub fn file(&self, name: impl AsRef<Path>) -> PathBuf {
        self.path.join(name)
    }
}

fn spawn(command: &mut Command) -> Child {
    command
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    command.spawn().expect("the binary starts")
}

/// Copies a folder with everything in it.
pub fn copy_folder(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy_folder(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).unwrap();
        }
    }
}

fn id_of(line: Value) -> String {
    line["id"].as_str().unwrap().to_owned()
}
