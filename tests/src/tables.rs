//! Tables of a document that a test fills from what the program does. `BLESS=1` writes them anew.

use crate::markdown::read;
use crate::repository;

/// Compares the table of `document` whose header row is `head` with `rows`.
///
/// # Panics
/// When the document says something else, or has no such table.
#[track_caller]
pub fn check(document: &str, head: &[&str], rows: &[Vec<String>]) {
    let text = read(document);
    let first = row(head);
    let lines: Vec<&str> = text.lines().collect();
    let begin = lines.iter().position(|line| *line == first);
    let begin = begin.unwrap_or_else(|| panic!("{document} has no table with the header {first}"));
    let rest = lines.iter().skip(begin + 2);
    let end = begin + 2 + rest.take_while(|line| line.starts_with('|')).count();
    let made: Vec<String> = rows.iter().map(|cells| row(cells)).collect();
    let said: Vec<&str> = lines[begin + 2..end].to_vec();
    if std::env::var_os("BLESS").is_none() {
        let differ = said.iter().zip(&made).find(|(said, made)| said != made);
        assert!(
            said == made,
            "{document} says something else; BLESS=1 writes it anew.\nThe first row that differs: {differ:#?}\n{}",
            made.join("\n")
        );
        return;
    }
    let new: Vec<&str> = lines[..begin + 2]
        .iter()
        .copied()
        .chain(made.iter().map(String::as_str))
        .chain(lines[end..].iter().copied())
        .collect();
    std::fs::write(repository().join(document), new.join("\n") + "\n").unwrap();
}

/// `| a | b |`.
fn row(cells: &[impl AsRef<str>]) -> String {
    let cells: Vec<String> = cells.iter().map(|cell| cell.as_ref().replace('|', "\\|")).collect();
    format!("| {} |", cells.join(" | "))
}
