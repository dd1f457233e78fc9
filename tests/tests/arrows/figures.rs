//! The size of the house in numbers: for DEVELOPERS.md, and to see which way it goes.
//!
//! `cargo test -p gladhand-tests --test arrows house_figures -- --ignored --nocapture`; `HOUSE=DIR` measures another checkout. Lines of
//! tests are not counted.

use std::path::{Path, PathBuf};

use gladhand_tests::repository;
use proc_macro2::Delimiter;

use crate::imports::{arrows, circles};
use crate::sources::Sources;
use crate::tokens::Token;

#[test]
#[ignore = "prints a table and holds nothing"]
fn house_figures() {
    let root = std::env::var_os("HOUSE").map_or_else(repository, PathBuf::from);
    println!("| crate | files | largest file | functions | median / p95 / longest function | circles |");
    println!("|---|---|---|---|---|---|");
    let mut all = Figures::default();
    for name in crates_of(&root) {
        let figures = Figures::of(&name, &root.join("crates").join(&name).join("src"));
        println!("{}", figures.row(&name));
        all.add(figures);
    }
    println!("{}", all.row("all"));
}

/// The folders below `crates`, in order.
pub fn crates_of(root: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(root.join("crates")).unwrap();
    let mut names: Vec<String> = entries.map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

#[derive(Default)]
struct Figures {
    files: usize,
    /// Its lines and its name.
    largest: (usize, String),
    function_lengths: Vec<usize>,
    circles: Vec<usize>,
}

impl Figures {
    fn of(name: &str, src: &Path) -> Self {
        let sources = Sources::read(src);
        let named = |file: usize| (sources.files[file].lines, sources.name(file));
        let circles = circles(&arrows(&sources, name));
        let lengths = sources.modules.values().flat_map(|m| function_lengths(&m.tokens));
        Self {
            files: sources.files.len(),
            largest: (0..sources.files.len()).map(named).max().unwrap(),
            function_lengths: lengths.collect(),
            circles: circles.iter().map(|circle| circle.len()).collect(),
        }
    }

    fn add(&mut self, other: Self) {
        self.files += other.files;
        self.largest = std::cmp::max(std::mem::take(&mut self.largest), other.largest);
        self.function_lengths.extend(other.function_lengths);
        self.circles.extend(other.circles);
    }

    fn row(&self, name: &str) -> String {
        let mut lengths = self.function_lengths.clone();
        lengths.sort_unstable();
        let part = |percent: usize| lengths[(lengths.len() * percent).div_ceil(100) - 1];
        let mut circles = self.circles.clone();
        circles.sort_unstable_by(|a, b| b.cmp(a));
        let circles: Vec<String> = circles.iter().map(usize::to_string).collect();
        format!(
            "| {name} | {} | {} ({}) | {} | {} / {} / {} | {} |",
            self.files,
            self.largest.0,
            self.largest.1,
            lengths.len(),
            part(50),
            part(95),
            part(100),
            if circles.is_empty() {
                "-".to_owned()
            } else {
                circles.join(", ")
            },
        )
    }
}

/// How many lines each function has, from `fn` to the brace that closes it.
pub fn function_lengths(tokens: &[Token]) -> Vec<usize> {
    let mut found = Vec::new();
    for (at, token) in tokens.iter().enumerate() {
        if let Token::Group { inside, .. } = token {
            found.extend(function_lengths(inside));
        }
        if let [Token::Word { text, line }, Token::Word { .. }, rest @ ..] = &tokens[at..]
            && text == "fn"
        {
            let ends = |token: &Token| token.is_sign(';') || token.group(Delimiter::Brace).is_some();
            let body = rest.iter().find(|token| ends(token));
            let end_line = body.and_then(|body| body.group(Delimiter::Brace)).map(|(_, end)| end);
            found.extend(end_line.map(|end| end + 1 - line));
        }
    }
    found
}
