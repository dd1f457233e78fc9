//! Wrapping, tables and counting words: what all texts share.

use std::borrow::Cow;

use unicode_width::UnicodeWidthStr;

/// How wide the page is, in columns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Page {
    /// Columns.
    pub width: usize,
}

impl Default for Page {
    fn default() -> Self {
        Self { width: 100 }
    }
}

impl Page {
    /// Text in lines no wider than the page, each behind `indent`. A longer word is broken.
    pub fn wrapped(self, text: &str, indent: &str) -> String {
        let words: Vec<&str> = text.split_whitespace().collect();
        if words.is_empty() {
            return "\n".into();
        }
        let options = textwrap::Options::new(self.width)
            .initial_indent(indent)
            .subsequent_indent(indent)
            .break_words(true)
            .word_separator(textwrap::WordSeparator::AsciiSpace)
            .word_splitter(textwrap::WordSplitter::NoHyphenation)
            .wrap_algorithm(textwrap::WrapAlgorithm::FirstFit);
        let mut out = textwrap::fill(&words.join(" "), options);
        out.push('\n');
        out
    }

    /// An item of a list, for reading.
    pub fn bullet(self, text: &str) -> String {
        format!("  - {}", self.wrapped(text, "    ").trim_start())
    }
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

/// `a, b and c`.
pub fn and(names: &[&str]) -> String {
    match names.split_last() {
        None => String::new(),
        Some((last, [])) => (*last).to_owned(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}

/// Between the values of a field that holds several.
pub const SEVERAL: &str = " | ";

/// The values of a field in one cell; a dash where there are none.
pub fn or_dash(values: &[String]) -> String {
    if values.is_empty() {
        "-".to_owned()
    } else {
        values.join(SEVERAL)
    }
}

/// Text of facts that keeps to its line and cannot command a terminal: besides control characters, what ends a line or
/// turns the direction of writing round is written out.
pub fn in_one_line(text: &str) -> Cow<'_, str> {
    let turns = |c: char| matches!(c, '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    written_out(text, |c| c.is_control() || turns(c))
}

/// What a terminal would obey is shown instead: a fact may hold any character.
pub fn harmless(text: &str) -> Cow<'_, str> {
    written_out(text, |c| c.is_control() && !matches!(c, '\n' | '\t'))
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
