//! A home folder, and the binary run in it.

use std::io::Write;
use std::ops::Deref;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;
use tempfile::TempDir;

use super::{Args, Daemon, Ran, Running, gladhand};

/// A home folder. It is not removed here: it lies in the temporary folder of a test.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Home {
    /// The folder.
    pub path: PathBuf,
}

/// The binary, ready to be started without a home. The tests' own environment does not reach it.
pub fn command() -> Command {
    let mut command = Command::new(gladhand());
    for name in ["GLADHAND_HOME", "GLADHAND_LOG", "RUST_LOG"] {
        command.env_remove(name);
    }
    // A backtrace on stderr would hide what a person sees, and times are told by the system's zone.
    command.env_remove("RUST_BACKTRACE").env("TZ", "UTC");
    command
}

impl Home {
    /// The home at `path`, whether it is there or not.
    pub fn at(path: impl Into<PathBuf>) -> Self {
        Self { path: path.into() }
    }

    /// Makes a home with more arguments for `setup` than its name.
    #[track_caller]
    pub fn made(path: impl Into<PathBuf>, name: &str, more: &[&str]) -> Self {
        let home = Self::at(path);
        home.good(&[&["setup", "--name", name], more].concat());
        home
    }

    /// Makes a laptop's home.
    #[track_caller]
    pub fn laptop(path: impl Into<PathBuf>, name: &str, person: &str) -> Self {
        Self::made(path, name, &["--person", person])
    }

    /// Makes a depot's home.
    #[track_caller]
    pub fn depot(path: impl Into<PathBuf>, name: &str, person: &str) -> Self {
        Self::made(path, name, &["--depot", "--person", person])
    }

    /// Puts `to` in the place of `from` in its configuration.
    #[track_caller]
    pub fn configure(&self, from: &str, to: &str) {
        let file = self.file("config.toml");
        let config = std::fs::read_to_string(&file).unwrap();
        assert!(config.contains(from), "no {from} in {config}");
        std::fs::write(file, config.replace(from, to)).unwrap();
    }

    /// Its daemon speaks to configured peers only and listens where it is told to: nobody on the network is to have a part in a
    /// test.
    #[track_caller]
    pub fn quiet(self) -> Self {
        self.configure("discover = true", "discover = false");
        self
    }

    /// The binary with this home, ready to be started.
    pub fn command(&self, args: &(impl Args + ?Sized)) -> Command {
        let mut command = command();
        command.arg("--home").arg(&self.path).args(args.words());
        command
    }

    /// Runs it to its end.
    #[track_caller]
    pub fn run(&self, args: &(impl Args + ?Sized)) -> Ran {
        Running::spawn(&mut self.command(args)).ran()
    }

    /// Runs it to its end, which must be a good one.
    #[track_caller]
    pub fn good(&self, args: &(impl Args + ?Sized)) -> Ran {
        self.run(args).done()
    }

    /// The JSON that it prints.
    #[track_caller]
    pub fn json(&self, args: &(impl Args + ?Sized)) -> Value {
        let mut words = args.words();
        words.push("--json");
        self.good(&words).json()
    }

    /// Runs it to its end with `input` on stdin.
    #[track_caller]
    pub fn feed(&self, args: &(impl Args + ?Sized), input: impl AsRef<[u8]>) -> Ran {
        feed(&mut self.command(args), input)
    }

    /// Starts it with pipes on all three sides.
    pub fn start(&self, args: &(impl Args + ?Sized)) -> Running {
        Running::spawn(&mut self.command(args))
    }

    /// Starts its daemon and waits until that is ready.
    #[track_caller]
    pub fn serve(&self) -> Daemon {
        Daemon::start(&mut self.command("serve"))
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
        let mut opened =
            gladhand_store::Home::open(&copy.path, &gladhand_node::Environment::machine().machine_id).unwrap();
        let log = opened.writes().unwrap();
        opened.settle_as(log).unwrap();
        copy
    }

    /// A file of the home.
    pub fn file(&self, name: impl AsRef<Path>) -> PathBuf {
        self.path.join(name)
    }

    /// Where its daemon takes commands, when its path is short enough.
    pub fn socket(&self) -> PathBuf {
        self.file("control.sock")
    }

    /// What its daemons have written into their log file.
    pub fn log(&self) -> String {
        std::fs::read_to_string(self.file("daemon.log")).unwrap_or_default()
    }
}

/// Runs a command to its end with `input` on stdin.
#[track_caller]
pub fn feed(command: &mut Command, input: impl AsRef<[u8]>) -> Ran {
    let mut running = Running::spawn(command);
    let mut pipe = running.stdin();
    let input = input.as_ref().to_vec();
    // It may end, or fill its stdout, before it has read everything.
    let feeder = std::thread::spawn(move || pipe.write_all(&input).ok());
    let ran = running.ran();
    feeder.join().unwrap();
    ran
}

/// A home in a temporary folder of its own, which goes away with it.
pub struct TempHome {
    home: Home,
    dir: TempDir,
}

impl TempHome {
    /// Mara's laptop, which has joined nobody and finds nobody.
    #[track_caller]
    pub fn laptop() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let home = Home::laptop(dir.path().join("home"), "mara", "mara").quiet();
        Self { home, dir }
    }

    /// The depot, which listens where it is told to.
    #[track_caller]
    pub fn depot(listen: &str) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let home = Home::made(
            dir.path().join("depot"),
            "harrow-street",
            &["--depot", "--listen", listen],
        )
        .quiet();
        Self { home, dir }
    }

    /// A place beside the home.
    pub fn beside(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }
}

impl Deref for TempHome {
    type Target = Home;
    fn deref(&self) -> &Home {
        &self.home
    }
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
