//! The daemon's log: on stderr for a person who watches, and in `<home>/daemon.log` for later.
//!
//! A line for people is a time by the local clock and a sentence ([`Plain`]); the machine form is JSON with the fields.
//! Sentences say everything that the fields say, so a reader of the one misses nothing of the other.
//!
//! The file is bounded: when it is full it becomes `daemon.log.1`, older ones get the next number, and the oldest is deleted.
//! A line that cannot be written is dropped: a full disk must not stop the daemon for its log. [`Rotating`] is our own.
//! tracing-appender turns by time, not by size; file-rotate cuts a line in two where the size is reached, and panics when the
//! folder is gone; rolling-file buffers what a kill then takes, and leaves the file readable by everybody. The latter two
//! and logroller bring chrono, a second library of time.

mod plain;

use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::sync::Mutex;

use tracing_subscriber::layer::SubscriberExt;
use tracing_subscriber::util::SubscriberInitExt;
use tracing_subscriber::{EnvFilter, Layer, fmt};

use crate::cli::LogFormat;
use plain::Plain;

/// How long a file becomes.
const MAX_BYTES: u64 = 2 << 20;
/// How many older files are kept.
const OLDER: u32 = 3;
/// Which log lines are written, in the words of `tracing`'s filters.
const FILTER_VARIABLE: &str = "GLADHAND_LOG";

/// Starts logging. Panics are logged too.
pub fn start(home: &Path, format: LogFormat) {
    let file = Mutex::new(Rotating::new(home.join("daemon.log"), MAX_BYTES));
    let json = || fmt::layer().with_target(false).json().flatten_event(true);
    let (to_file, to_stderr) = match format {
        LogFormat::Text => (
            fmt::layer().event_format(Plain::with_day()).with_writer(file).boxed(),
            fmt::layer()
                .event_format(Plain::without_day())
                .with_writer(io::stderr)
                .boxed(),
        ),
        LogFormat::Json => (json().with_writer(file).boxed(), json().with_writer(io::stderr).boxed()),
    };
    let layers = vec![to_file, to_stderr];
    // Fails only when logging has been started before, as in a test.
    tracing_subscriber::registry()
        .with(layers)
        .with(filter(std::env::var(FILTER_VARIABLE).ok()))
        .try_init()
        .ok();
    std::panic::set_hook(Box::new(|panic| {
        let payload = panic.payload();
        let text = payload.downcast_ref::<String>().map(String::as_str);
        let what = text
            .or(payload.downcast_ref::<&str>().copied())
            .unwrap_or("no word why");
        let at = panic.location().map_or(String::new(), |at| format!(" ({at})"));
        tracing::error!("something went wrong inside: {what}{at}");
    }));
}

/// A level alone is that of our own lines: the libraries' spans cost more than the work that they describe.
fn filter(wanted: Option<String>) -> EnvFilter {
    let wanted = wanted.unwrap_or_else(|| "info".into());
    let is_level = wanted.parse::<tracing::level_filters::LevelFilter>().is_ok();
    let directives = if is_level {
        format!("warn,gladhand={wanted}")
    } else {
        wanted
    };
    EnvFilter::try_new(directives).unwrap_or_else(|_| EnvFilter::new("warn,gladhand=info"))
}

/// A log file that is turned over when it is full.
struct Rotating {
    path: PathBuf,
    max_bytes: u64,
    open: Option<(File, u64)>,
}

impl Rotating {
    fn new(path: PathBuf, max_bytes: u64) -> Self {
        Self {
            path,
            max_bytes,
            open: None,
        }
    }

    /// The file with room for `more`.
    fn file(&mut self, more: u64) -> io::Result<&mut (File, u64)> {
        let mut opened = match self.open.take() {
            Some(opened) => opened,
            None => self.append_to()?,
        };
        if opened.1 > 0 && opened.1 + more > self.max_bytes {
            self.turn()?;
            opened = self.append_to()?;
        }
        Ok(self.open.insert(opened))
    }

    fn append_to(&self) -> io::Result<(File, u64)> {
        let mut options = OpenOptions::new();
        let file = options.append(true).create(true).mode(0o600).open(&self.path)?;
        let size = file.metadata()?.len();
        Ok((file, size))
    }

    /// `daemon.log` becomes `daemon.log.1`, that one `.2`, and so on.
    fn turn(&self) -> io::Result<()> {
        for number in (1..OLDER).rev() {
            std::fs::rename(self.older(number), self.older(number + 1)).ok();
        }
        std::fs::rename(&self.path, self.older(1))
    }

    fn older(&self, number: u32) -> PathBuf {
        let mut name = self.path.clone().into_os_string();
        name.push(format!(".{number}"));
        name.into()
    }
}

impl Write for Rotating {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if let Ok((file, size)) = self.file(bytes.len() as u64) {
            *size += file.write_all(bytes).map_or(0, |()| bytes.len() as u64);
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_log_is_bounded_and_keeps_the_newest() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("daemon.log");
        for day in 0..3 {
            let mut log = Rotating::new(path.clone(), 1_000);
            for line in 0..100 {
                // A log line comes in one piece.
                let line = format!("day {day}, line {line:03} ..........................\n");
                log.write_all(line.as_bytes()).unwrap();
            }
        }
        let names: Vec<_> = std::fs::read_dir(dir.path()).unwrap().map(|e| e.unwrap()).collect();
        assert_eq!(names.len(), 4);
        assert!(names.iter().all(|name| name.metadata().unwrap().len() <= 1_000));
        assert!(std::fs::read_to_string(&path).unwrap().contains("day 2, line 099"));
    }

    #[test]
    fn a_level_alone_means_our_own_lines() {
        assert_eq!(filter(None).to_string(), filter(Some("info".into())).to_string());
        assert!(filter(Some("debug".into())).to_string().contains("gladhand=debug"));
        assert_eq!(filter(Some("sled=trace".into())).to_string(), "sled=trace");
    }

    #[test]
    fn a_log_that_cannot_be_written_stops_nobody() {
        let mut log = Rotating::new("/nowhere/daemon.log".into(), 1_000);
        assert!(writeln!(log, "a line").is_ok());
    }
}
