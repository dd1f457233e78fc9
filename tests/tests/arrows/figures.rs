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
    for name in crates_of(&root) {
        println!("{}", row(&name, &root.join("crates").join(&name).join("src")));
    }
}

/// The folders below `crates`, in order.
pub fn crates_of(root: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(root.join("crates")).unwrap();
    let mut names: Vec<String> = entries.map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

fn row(name: &str, src: &Path) -> String {
    let sources = Sources::read(src);
    let largest = sources.files.iter().max_by_key(|file| file.lines).unwrap();
    let mut lengths: Vec<usize> = sources
        .modules
        .values()
        .flat_map(|m| function_lengths(&m.tokens))
        .collect();
    lengths.sort_unstable();
    let part = |percent: usize| lengths[(lengths.len() * percent).div_ceil(100) - 1];
    let mut sizes: Vec<usize> = circles(&arrows(&sources, name))
        .iter()
        .map(|circle| circle.len())
        .collect();
    sizes.sort_unstable_by(|a, b| b.cmp(a));
    let sizes: Vec<String> = sizes.iter().map(usize::to_string).collect();
    format!(
        "| {name} | {} | {} ({}) | {} | {} / {} / {} | {} |",
        sources.files.len(),
        largest.lines,
        largest.path.display(),
        lengths.len(),
        part(50),
        part(95),
        part(100),
        if sizes.is_empty() {
            "-".to_owned()
        } else {
            sizes.join(", ")
        },
    )
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
