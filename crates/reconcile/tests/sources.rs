//! All English of the reconciler stands in `src/words`: no other source holds a text of several words.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::fs;
use std::path::{Path, PathBuf};

fn sources(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(sources(&path));
        } else {
            found.push(path);
        }
    }
    found.sort();
    found
}

/// The texts of a source without comments and without its test module.
fn texts(source: &str) -> Vec<String> {
    let source = source.split("#[cfg(test)]").next().unwrap_or_default();
    let mut found = Vec::new();
    let mut rest = source;
    while let Some(at) = rest.find(['"', '/', '\'']) {
        let here = &rest[at..];
        rest = if here.starts_with("//") {
            &here[here.find('\n').unwrap_or(here.len())..]
        } else if let Some(text) = here.strip_prefix('"') {
            let end = end_of_text(text);
            found.push(text[..end].to_owned());
            &text[end + 1..]
        } else if here.starts_with("'\"'") || here.starts_with("'/'") {
            &here[3..]
        } else {
            &here[1..]
        };
    }
    found
}

/// Where a text ends: at the first quote that is not escaped.
fn end_of_text(text: &str) -> usize {
    let mut is_escaped = false;
    for (at, c) in text.char_indices() {
        match c {
            _ if is_escaped => is_escaped = false,
            '\\' => is_escaped = true,
            '"' => return at,
            _ => {}
        }
    }
    panic!("a text does not end: {text}");
}

/// Two words of letters with a space between them. Markup and placeholders are no words.
fn is_english(text: &str) -> bool {
    let is_word =
        |word: &str| word.chars().filter(|c| c.is_alphabetic()).count() > 0 && !word.contains(['{', '<', '=']);
    let words: Vec<&str> = text.split(' ').collect();
    words.windows(2).any(|pair| pair.iter().all(|word| is_word(word)))
}

#[test]
fn only_words_hold_english() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let (mut rules, mut sentences) = (0, 0);
    for path in sources(&src) {
        let shown = path.strip_prefix(&src).unwrap();
        if path.to_string_lossy().ends_with("tests.rs") {
            continue;
        }
        let texts = texts(&fs::read_to_string(&path).unwrap());
        let english: Vec<&String> = texts.iter().filter(|text| is_english(text)).collect();
        if shown.starts_with("words") {
            sentences += english.len();
            continue;
        }
        assert!(english.is_empty(), "{} holds English: {english:#?}", shown.display());
        rules += usize::from(shown.starts_with("rules"));
    }
    assert!(rules >= 20, "only {rules} rules were scanned");
    assert!(
        sentences > 60,
        "the scan finds only {sentences} sentences among the words"
    );
}

#[test]
fn the_scan_sees_what_it_looks_for_and_no_more() {
    let source = r##"
        //! Not in "a comment here".
        const KEY: &str = "signed-without-link"; // nor "in this one"
        fn f<'a>(c: char) -> bool { c == '"' || c == '/' }
        const SAYS: &str = "it was \"signed off\" again";
        #[cfg(test)]
        mod tests { const T: &str = "a test may say so"; }
    "##;
    let english: Vec<String> = texts(source).into_iter().filter(|text| is_english(text)).collect();
    assert_eq!(english, [r#"it was \"signed off\" again"#]);
    assert!(!is_english("<path d=\"M14 12L36 12\" stroke=\"#000\"/>") && !is_english("{:?} {}") && !is_english(" | "));
}
