//! Wrapping, tables and counting words: what all texts share.

use std::borrow::Cow;

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
    /// Text in lines no wider than the page, each behind `indent`.
    pub fn wrapped(self, text: &str, indent: &str) -> String {
        let mut out = String::new();
        let mut column = 0;
        for word in text.split_whitespace() {
            let length = word.chars().count();
            if column > 0 && column + 1 + length > self.width.saturating_sub(indent.len()) {
                out.push('\n');
                column = 0;
            }
            if column == 0 {
                out.push_str(indent);
            } else {
                out.push(' ');
                column += 1;
            }
            out.push_str(word);
            column += length;
        }
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
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |c: usize| {
        rows.iter()
            .filter_map(|r| r.get(c))
            .map(|t| t.chars().count())
            .max()
            .unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let mut out = String::new();
    for row in rows {
        let mut text = String::new();
        for (cell, width) in row.iter().zip(&widths) {
            let pad = width.saturating_sub(cell.chars().count());
            text.push_str(cell);
            text.push_str(&" ".repeat(pad + 2));
        }
        out.push_str(text.trim_end());
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

/// The values of a field in one cell; a dash where there are none.
pub fn or_dash(values: &[String]) -> String {
    if values.is_empty() {
        "-".to_owned()
    } else {
        values.join(" | ")
    }
}

/// Text of facts that keeps to its line and cannot command a terminal: besides control characters, what ends a line or
/// turns the direction of writing round is written out.
pub fn in_one_line(text: &str) -> Cow<'_, str> {
    let turns = |c: char| matches!(c, '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    written_out(text, |c| c.is_control() || turns(c))
}

/// The text with some characters written as escapes.
pub fn written_out(text: &str, which: impl Fn(char) -> bool) -> Cow<'_, str> {
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
