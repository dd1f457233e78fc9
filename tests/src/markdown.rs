//! Just enough of Markdown for the tests that hold documents to the program: headings, tables, code blocks, code spans, links.

use std::path::{Path, PathBuf};

use crate::repository;

/// What stands behind, or before, what the program does not do yet.
pub const PLANNED: &str = "*(planned)*";

/// All documents of the repository, as paths relative to its root.
pub fn documents() -> Vec<PathBuf> {
    let root = repository();
    let folders = ["", "docs", "docs/contract", "demo-data", "tests/oracles"];
    let mut found = Vec::new();
    for folder in folders {
        let mut here: Vec<PathBuf> = std::fs::read_dir(root.join(folder))
            .unwrap_or_else(|e| panic!("{folder}: {e}"))
            .map(|entry| Path::new(folder).join(entry.unwrap().file_name()))
            .filter(|path| path.extension().is_some_and(|ending| ending == "md"))
            .collect();
        here.sort();
        found.extend(here);
    }
    found
}

/// The text of a document.
pub fn read(document: impl AsRef<Path>) -> String {
    let path = repository().join(document.as_ref());
    std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// The lines outside code blocks.
pub fn prose(text: &str) -> impl Iterator<Item = &str> {
    let mut inside = false;
    text.lines().filter(move |line| {
        let is_fence = line.starts_with("```");
        inside ^= is_fence;
        !inside && !is_fence
    })
}

/// A row of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// The text of its cells.
    pub cells: Vec<String>,
}

impl Row {
    /// Whether the thing that it names is only planned.
    pub fn is_planned(&self) -> bool {
        self.cells[0].contains(PLANNED)
    }

    /// The code spans of its first cell.
    pub fn names(&self) -> Vec<String> {
        code_spans(&self.cells[0])
    }
}

/// The rows of the tables whose header begins with this cell.
pub fn rows(text: &str, head: &str) -> Vec<Row> {
    let mut rows = Vec::new();
    let mut inside = false;
    for line in prose(text) {
        let Some(inner) = line.strip_prefix("| ").and_then(|l| l.strip_suffix(" |")) else {
            inside &= line.starts_with("|--");
            continue;
        };
        let cells: Vec<String> = inner
            .replace("\\|", "\u{0}")
            .split(" | ")
            .map(|c| c.replace('\u{0}', "|"))
            .collect();
        if inside {
            rows.push(Row { cells });
        } else {
            inside = cells[0] == head;
        }
    }
    rows
}

/// What stands between backquotes.
pub fn code_spans(text: &str) -> Vec<String> {
    text.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

/// The targets of the links.
pub fn links(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    for line in prose(text) {
        let plain: String = line.split('`').step_by(2).collect();
        let targets = plain.split("](").skip(1).filter_map(|rest| rest.split_once(')'));
        found.extend(targets.map(|(target, _)| target.to_owned()));
    }
    found
}

/// The anchors of the headings.
pub fn anchors(text: &str) -> Vec<String> {
    let headings = prose(text).filter(|line| line.starts_with('#'));
    headings.map(|line| anchor(line.trim_start_matches('#'))).collect()
}

fn anchor(heading: &str) -> String {
    heading
        .trim()
        .to_lowercase()
        .chars()
        .filter(|c| c.is_alphanumeric() || matches!(c, ' ' | '-' | '_'))
        .map(|c| if c == ' ' { '-' } else { c })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables_links_and_headings_are_read() {
        let text = "# A *(planned)* b\n\n| rule | when |\n|---|---|\n| `x` *(planned)* | a \\| b |\n| `y` | [c](d.md#e) |\n\n\
                    | other | z |\n|---|---|\n| `q` | r |\n";
        let rows = rows(text, "rule");
        assert_eq!(rows.len(), 2);
        assert!(rows[0].is_planned() && !rows[1].is_planned());
        assert_eq!(
            (rows[0].names(), rows[0].cells[1].as_str()),
            (vec!["x".to_owned()], "a | b")
        );
        assert_eq!(links(text), ["d.md#e"]);
        assert_eq!(anchors(text), ["a-planned-b"]);
    }
}
