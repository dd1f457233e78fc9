//! How things are written for people: plain lines, no colour needed to understand them.
//!
//! Widths are those of a terminal: a letter of Han script takes two columns, a combining accent none. Tables are padded here
//! and not by a library of tables: they have no frames and no cells that wrap, so nothing is left for one to do.

use std::cell::Cell;
use std::time::{Duration, Instant};

use crate::console::{self, Tick};
use crate::failure::{Exit, Failure, Outcome};
use gladhand_answers::Versioned;
use gladhand_answers::text::layout::harmless;
pub use gladhand_answers::text::layout::{counted, table};
use gladhand_answers::text::{Page, Piece, Text};
use gladhand_node::Progress;

/// Writes to stdout, for people. A reader that went away ends the program quietly, as tools do.
///
/// # Errors
/// When stdout cannot be written.
pub fn print(text: &str) -> Result<(), Failure> {
    bytes(harmless(text).as_bytes())
}

/// Writes bytes to stdout.
///
/// # Errors
/// As [`print()`].
pub fn bytes(bytes: &[u8]) -> Result<(), Failure> {
    match console::out(bytes) {
        Err(e) if e.kind() == std::io::ErrorKind::BrokenPipe && !console::is_remote() => {
            std::process::exit(Exit::Done as i32)
        }
        other => other.map_err(|e| Failure::failed(format!("cannot write to stdout: {e}"))),
    }
}

/// Writes a line to stdout.
///
/// # Errors
/// As [`print()`].
pub fn line(text: &str) -> Result<(), Failure> {
    print(&format!("{text}\n"))
}

/// Writes JSON to stdout, indented, with a newline.
///
/// # Errors
/// As [`print()`].
pub fn json<T: serde::Serialize>(value: &T) -> Outcome {
    let text = serde_json::to_string_pretty(value).map_err(Failure::failed)?;
    line(&text)?;
    Ok(Exit::Done)
}

/// Something to tell beside the data.
pub fn aside(text: &str) {
    console::err(&harmless(text));
}

/// Shows an answer: as JSON with its version, or as text.
///
/// # Errors
/// As [`print()`].
pub fn answer<A: serde::Serialize + Text>(answer: A, as_json: bool) -> Result<(), Failure> {
    let page = page();
    let pieces = if as_json {
        answer.warnings(page)
    } else {
        answer.text(page)
    };
    if as_json {
        json(&Versioned::new(answer))?;
    }
    for piece in pieces {
        match piece {
            Piece::Warning(text) => aside(&text),
            Piece::Out(text) if !as_json => print(&text)?,
            Piece::Aside(text) if !as_json => aside(&text),
            Piece::Out(_) | Piece::Aside(_) => {}
        }
    }
    Ok(())
}

/// As [`answer`], with the JSON in one line: a script that waits for it reads a line.
///
/// # Errors
/// As [`print()`].
pub fn answer_in_one_line<A: serde::Serialize + Text>(answer: A, as_json: bool) -> Result<(), Failure> {
    if as_json {
        let text = serde_json::to_string(&Versioned::new(answer)).map_err(Failure::failed)?;
        return line(&text);
    }
    self::answer(answer, false)
}

/// The width of lines where nobody looks at a terminal: what a script reads does not depend on a window.
const WIDEST: usize = 100;
/// Narrower lines are harder to read than lines that the terminal breaks.
const NARROWEST: usize = 40;

/// How many columns a line may have: those of the reader's terminal.
pub fn width() -> usize {
    console::width().map_or(WIDEST, |columns| columns.max(NARROWEST))
}

/// The page that the reader sees.
pub fn page() -> Page {
    Page { width: width() }
}

/// Text in lines of at most [`width`] columns, each behind `indent`. A longer word is broken.
pub fn wrapped(text: &str, indent: &str) -> String {
    page().wrapped(text, indent)
}

/// Work shorter than this shows no progress.
const A_MOMENT: Duration = Duration::from_millis(300);
/// How often a remote console is told.
const REMOTE_PACE: Duration = Duration::from_millis(100);

/// A progress bar on stderr when that is a terminal, and only for work that takes a moment.
pub struct Bar {
    bar: indicatif::ProgressBar,
    started: Instant,
    told: Cell<Option<Instant>>,
    wait: Duration,
    shown: bool,
}

impl Bar {
    /// A bar that is not shown yet.
    pub fn new() -> Self {
        let bar = indicatif::ProgressBar::hidden();
        if let Ok(style) = indicatif::ProgressStyle::with_template("{msg} [{bar:30}] {pos}/{len}") {
            bar.set_style(style.progress_chars("=> "));
        }
        Self {
            bar,
            started: Instant::now(),
            told: Cell::new(None),
            wait: A_MOMENT,
            shown: console::shows_progress(),
        }
    }

    /// A bar for work that is known to take a while.
    pub fn at_once() -> Self {
        let mut bar = Self::new();
        bar.wait = Duration::ZERO;
        bar
    }

    fn tell_remote(&self, tick: Tick<'_>) {
        if self.told.get().is_none_or(|told| told.elapsed() >= REMOTE_PACE) {
            self.told.set(Some(Instant::now()));
            console::progress(Some(tick));
        }
    }

    fn draw(&self, Tick { what, done, total }: Tick<'_>) {
        if self.bar.is_hidden() {
            self.bar.set_draw_target(indicatif::ProgressDrawTarget::stderr());
        }
        self.bar.set_message(what.to_owned());
        self.bar.set_length(total.max(done));
        self.bar.set_position(done);
    }
}

impl Default for Bar {
    fn default() -> Self {
        Self::new()
    }
}

impl Progress for Bar {
    fn tick(&self, what: &str, done: u64, total: u64) {
        if !self.shown || self.started.elapsed() < self.wait {
            return;
        }
        let tick = Tick { what, done, total };
        if console::is_remote() {
            self.tell_remote(tick);
        } else {
            self.draw(tick);
        }
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        if self.told.get().is_some() {
            console::progress(None);
        }
        self.bar.finish_and_clear();
    }
}

#[cfg(test)]
#[path = "show_tests.rs"]
mod tests;
