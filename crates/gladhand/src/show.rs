//! How things are written for people: plain lines, no colour needed to understand them.
//!
//! Widths are those of a terminal: a letter of Han script takes two columns, a combining accent none. Tables are padded here
//! and not by a library of tables: they have no frames and no cells that wrap, so nothing is left for one to do.

use std::borrow::Cow;
use std::cell::Cell;
use std::time::{Duration, Instant};

use gladhand_reconcile::finding::Standing;
use gladhand_reconcile::{Finding, Status};
use unicode_width::UnicodeWidthStr;

use crate::console::{self, Tick};
use crate::failure::{Exit, Failure, Outcome};
use gladhand_node::Progress;

/// Writes to stdout, for people. When the reader has gone away (`gladhand history | head`) the program ends quietly.
///
/// # Errors
/// When stdout cannot be written.
pub fn print(text: &str) -> Result<(), Failure> {
    bytes(harmless(text).as_bytes())
}

/// Control characters are written out instead of obeyed by the terminal: a fact may hold any character.
fn harmless(text: &str) -> Cow<'_, str> {
    written_out(text, |c| c.is_control() && !matches!(c, '\n' | '\t'))
}

/// Text of facts that stays on its line and cannot command a terminal: besides control characters, what ends a line or
/// changes the direction of writing is written out.
pub fn in_one_line(text: &str) -> Cow<'_, str> {
    let turns = |c: char| matches!(c, '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    written_out(text, |c| c.is_control() || turns(c))
}

/// The text with some characters written as escapes.
fn written_out(text: &str, which: impl Fn(char) -> bool) -> Cow<'_, str> {
    if !text.contains(&which) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if which(c) {
            out.extend(c.escape_default());
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
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

/// Writes a line for people on stderr.
pub fn aside(text: &str) {
    console::err(&harmless(text));
}

/// The status as a word.
pub fn status(status: Status) -> &'static str {
    match status {
        Status::Open => "open",
        Status::Settled => "settled",
        Status::Cleared => "cleared",
    }
}

/// A finding in a few lines.
pub fn finding(f: &Finding) -> String {
    let mut out = format!("{:<4}  {}  {}  {}", f.severity.word(), f.id, f.rule, f.subject);
    out.push_str(&format!("  [{}", status(f.status)));
    if f.standing != Standing::None {
        out.push_str(&format!(", {}", f.standing.word()));
    }
    out.push_str("]\n");
    out.push_str(&wrapped(&f.says, "      "));
    match &f.ruling {
        Some(r) => {
            let by = r.by.as_deref().unwrap_or("somebody");
            let why = r.why.as_deref().unwrap_or("no reason given");
            out.push_str(&wrapped(&format!("Settled by {by}: {} ({why})", r.ruling), "      "));
        }
        None if f.is_open() => out.push_str(&wrapped(&format!("-> {}", f.next), "      ")),
        None => {}
    }
    out
}

/// The width of lines when stdout is no terminal, so that what a script reads does not depend on a window.
const WIDEST: usize = 100;
/// On a narrower terminal, lines that it breaks itself are easier to read.
const NARROWEST: usize = 40;

/// How many columns a line may have: those of the reader's terminal, within these bounds.
pub fn width() -> usize {
    console::width().map_or(WIDEST, |columns| columns.clamp(NARROWEST, WIDEST))
}

/// Text in lines of at most [`width`] columns, each behind `indent`. A longer word has a line for itself.
pub fn wrapped(text: &str, indent: &str) -> String {
    let words: Vec<&str> = text.split_whitespace().collect();
    if words.is_empty() {
        return "\n".into();
    }
    let options = textwrap::Options::new(width())
        .initial_indent(indent)
        .subsequent_indent(indent)
        .break_words(false)
        .word_separator(textwrap::WordSeparator::AsciiSpace)
        .word_splitter(textwrap::WordSplitter::NoHyphenation)
        .wrap_algorithm(textwrap::WrapAlgorithm::FirstFit);
    let mut out = textwrap::fill(&words.join(" "), options);
    out.push('\n');
    out
}

/// A table with columns as wide as they need to be.
pub fn table(rows: &[Vec<String>]) -> String {
    let rows: Vec<Vec<Cow<'_, str>>> = rows
        .iter()
        .map(|row| row.iter().map(|cell| harmless(cell)).collect())
        .collect();
    let mut widths: Vec<usize> = Vec::new();
    for row in &rows {
        widths.resize(widths.len().max(row.len()), 0);
        for (widest, cell) in widths.iter_mut().zip(row) {
            *widest = cell.width().max(*widest);
        }
    }
    let mut out = String::new();
    for row in &rows {
        let mut line = String::new();
        for (cell, width) in row.iter().zip(&widths) {
            line.push_str(cell);
            line.push_str(&" ".repeat(width.saturating_sub(cell.width()) + 2));
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

/// `1 entry`, `2 entries`.
pub fn counted(count: u64, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// Work that takes less shows no progress.
const A_MOMENT: Duration = Duration::from_millis(300);
/// How often a remote console is told of progress.
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
