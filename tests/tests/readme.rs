//! What README and the documents show is what the program shows: their `console` blocks are run and compared.
//!
//! `BLESS=1 cargo test -p gladhand-tests --test readme` writes what the program shows into them.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use gladhand_tests::markdown::{documents, read};
use gladhand_tests::{console, repository};

#[test]
fn the_readme_shows_what_the_program_shows() {
    console::check(&repository().join("README.md"));
}

#[test]
fn the_readme_is_short() {
    let lines = read("README.md").lines().count();
    assert!(lines <= 150, "README.md has {lines} lines");
}

#[test]
fn the_documents_show_what_the_program_shows() {
    let mut checked = 0;
    for document in documents().into_iter().filter(|path| path.starts_with("docs")) {
        if !console::steps(&read(&document)).is_empty() {
            console::check(&repository().join(document));
            checked += 1;
        }
    }
    assert!(checked >= 2, "only {checked} documents with commands");
}
