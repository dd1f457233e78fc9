//! What a file may not have: too many lines, and answers without a type.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_tests::repository;

use crate::figures::crates_of;
use crate::rules::{JSON_MACRO, LONGER_FILES, LONGEST_FILE};
use crate::sources::Sources;
use crate::tokens::{self, Token};

/// What `of` says of the program files of all crates, whose names are seen from the root of the repository.
fn files<T>(of: impl Fn(&Sources, usize) -> Option<T>) -> BTreeMap<String, T> {
    let mut found = BTreeMap::new();
    for name in crates_of(&repository()) {
        let sources = Sources::read(&repository().join("crates").join(&name).join("src"));
        let each = (0..sources.files.len()).filter_map(|file| Some((file, of(&sources, file)?)));
        found.extend(each.map(|(file, what)| (format!("crates/{name}/src/{}", sources.name(file)), what)));
    }
    found
}

#[test]
fn files_are_short() {
    let allowed: BTreeMap<&str, usize> = LONGER_FILES.iter().copied().collect();
    let mut faults = Vec::new();
    for (file, lines) in files(|sources, file| Some(sources.files[file].lines)) {
        match allowed.get(file.as_str()) {
            Some(most) if lines > *most => {
                faults.push(format!("{file} has {lines} lines, and LONGER_FILES allows {most}"))
            }
            Some(_) if lines <= LONGEST_FILE => faults.push(format!("{file} can be taken off LONGER_FILES")),
            None if lines > LONGEST_FILE => {
                faults.push(format!("{file} has {lines} lines, and {LONGEST_FILE} are allowed"))
            }
            _ => {}
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn answers_have_types() {
    let calls = |sources: &Sources, file: usize| sources.modules_in(file).any(|module| calls_json(&module.tokens));
    let found = files(|sources, file| calls(sources, file).then_some(()));
    let found: BTreeSet<&str> = found.keys().map(String::as_str).collect();
    let allowed: BTreeSet<&str> = JSON_MACRO.iter().copied().collect();
    let too_many: Vec<_> = found.difference(&allowed).collect();
    assert!(
        too_many.is_empty(),
        "json! is called, and JSON_MACRO does not allow it: {too_many:#?}"
    );
    let stale: Vec<_> = allowed.difference(&found).collect();
    assert!(stale.is_empty(), "can be taken off JSON_MACRO: {stale:#?}");
}

fn calls_json(tokens: &[Token]) -> bool {
    let here = tokens
        .windows(2)
        .any(|two| two[0].word() == Some("json") && two[1].is_sign('!'));
    let within = |token: &Token| matches!(token, Token::Group { inside, .. } if calls_json(inside));
    here || tokens.iter().any(within)
}

#[test]
fn the_macro_is_found_where_it_is_called() {
    let calls = |text: &str| calls_json(&tokens::program(text).tokens);
    assert!(calls("fn f() { show(&serde_json::json!({\"a\": 1})) }"));
    assert!(!calls(
        "fn f() { show::json(&answer) } // json!\n#[cfg(test)] mod tests { fn f() { json!(1); } }"
    ));
}
