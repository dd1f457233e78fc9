//! Lines and tables as a terminal shows them.

use std::io::{self, Read};

use super::*;
use crate::console::Console;
use unicode_width::UnicodeWidthStr;

/// A terminal of so many columns that nobody reads.
struct Terminal(usize);

impl Console for Terminal {
    fn out(&mut self, _: &[u8]) -> io::Result<()> {
        Ok(())
    }
    fn err(&mut self, _: &str) {}
    fn input(&mut self) -> Box<dyn Read + Send> {
        Box::new(io::empty())
    }
    fn width(&self) -> Option<usize> {
        Some(self.0)
    }
    fn shows_progress(&self) -> bool {
        false
    }
    fn progress(&mut self, _: Option<Tick<'_>>) {}
}

fn wrapped_at(columns: usize, text: &str, indent: &str) -> String {
    console::with(Box::new(Terminal(columns)), || wrapped(text, indent))
}

/// Another way to the same lines, for text of one column a letter: word by word, as long as it fits.
fn greedy(text: &str, indent: &str, columns: usize) -> String {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.len() + 1 + word.len() <= columns => *line += &format!(" {word}"),
            _ => lines.push(format!("{indent}{word}")),
        }
    }
    lines.join("\n") + "\n"
}

#[test]
fn plain_text_breaks_where_the_next_word_does_not_fit() {
    let words = [
        "a",
        "camera",
        "on",
        "the",
        "upper-left",
        "rail;",
        "/a/path/that-is/long",
        "3/4 in",
        "",
    ];
    let mut chosen = 7_u32;
    for count in 0..200 {
        let text: Vec<&str> = (0..count)
            .map(|_| {
                chosen = chosen.wrapping_mul(1_103_515_245).wrapping_add(12_345);
                words[(chosen >> 16) as usize % words.len()]
            })
            .collect();
        let text = text.join(" ");
        for (columns, indent) in [(100, ""), (100, "      "), (61, "  - ")] {
            assert_eq!(wrapped_at(columns, &text, indent), greedy(&text, indent, columns));
        }
    }
}

#[test]
fn a_line_is_as_wide_as_the_terminal_within_reason() {
    let text = "reading ".repeat(60);
    let longest = |columns: usize| wrapped_at(columns, &text, "").lines().map(str::len).max();
    let whole_words = |columns: usize| Some((columns + 1) / 8 * 8 - 1);
    for (terminal, used) in [(100, 100), (72, 72), (10, NARROWEST), (300, 300)] {
        assert_eq!(longest(terminal), whole_words(used), "on {terminal} columns");
    }
    assert_eq!(
        wrapped(&text, ""),
        wrapped_at(100, &text, ""),
        "where there is no terminal"
    );
}

#[test]
fn a_word_longer_than_a_line_is_broken_and_no_word_keeps_its_line() {
    let long = "x".repeat(150);
    let (first, rest) = ("x".repeat(98), "x".repeat(52));
    assert_eq!(
        wrapped(&format!("see {long} there"), "  "),
        format!("  see\n  {first}\n  {rest} there\n")
    );
    let lines = wrapped_at(40, &"漢".repeat(60), "    ");
    assert!(lines.lines().all(|line| line.width() <= 40), "{lines}");
    assert_eq!(wrapped("  ", "  "), "\n");
}

#[test]
fn wide_letters_count_twice_and_accents_not_at_all() {
    let wide = wrapped_at(40, &"漢字漢字漢 ".repeat(6), "");
    assert_eq!(wide, "漢字漢字漢 漢字漢字漢 漢字漢字漢\n".repeat(2));
    let accents = wrapped_at(40, &"e\u{301}te\u{301} ".repeat(12), "");
    assert_eq!(
        accents.lines().next().unwrap().chars().filter(char::is_ascii).count(),
        39
    );
}

#[test]
fn columns_of_a_table_stand_under_one_another() {
    let row = |cells: [&str; 3]| cells.map(str::to_owned).to_vec();
    let rows = [
        row(["job", "yard", "by"]),
        row(["7", "東京", "mara"]),
        row(["12", "Mo\u{308}lln", "ida"]),
        row(["\u{1b}", "Tolland yard", ""]),
    ];
    let text = table(&rows);
    let start_of_last = |line: &str, last: &str| line.strip_suffix(last).unwrap().width();
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(start_of_last(lines[0], "by"), start_of_last(lines[1], "mara"));
    assert_eq!(start_of_last(lines[0], "by"), start_of_last(lines[2], "ida"));
    assert_eq!(lines[3], "\\u{1b}  Tolland yard");
}
