//! The house keeps its arrows: which crate may use which, where the heavy packages live, and that the pure crates
//! touch no clock, no randomness, no environment, no file and no socket (DESIGN §1).

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use cargo_metadata::{DependencyKind, Metadata, MetadataCommand, Package};
use gladhand_tests::{files_below, repository};

/// Each crate with what it may use of ours. It must use exactly that.
const ARROWS: [(&str, &[&str]); 8] = [
    ("gladhand-facts", &[]),
    ("gladhand-trade", &["gladhand-facts"]),
    ("gladhand-logbook", &["gladhand-facts"]),
    ("gladhand-reconcile", &["gladhand-facts", "gladhand-trade"]),
    ("gladhand-store", &["gladhand-facts"]),
    (
        "gladhand-node",
        &[
            "gladhand-facts",
            "gladhand-trade",
            "gladhand-logbook",
            "gladhand-reconcile",
            "gladhand-store",
        ],
    ),
    (
        "gladhand-net",
        &["gladhand-facts", "gladhand-logbook", "gladhand-store", "gladhand-node"],
    ),
    (
        "gladhand",
        &[
            "gladhand-facts",
            "gladhand-trade",
            "gladhand-logbook",
            "gladhand-reconcile",
            "gladhand-store",
            "gladhand-node",
            "gladhand-net",
        ],
    ),
];

/// The member that may use anything.
const FREE: &str = "gladhand-tests";

/// Heavy packages, each with its one home.
const HOMES: [(&str, &str); 8] = [
    ("automerge", "gladhand-logbook"),
    ("ed25519-dalek", "gladhand-logbook"),
    ("sled", "gladhand-store"),
    ("bincode", "gladhand-store"),
    ("rustls", "gladhand-net"),
    ("notify", "gladhand"),
    ("clap", "gladhand"),
    ("axum", "gladhand"),
];

/// Crates without a clock, randomness, environment, file or socket.
const PURE: [&str; 4] = ["facts", "trade", "logbook", "reconcile"];

/// Packages that bring one of these.
const IMPURE_PACKAGES: [&str; 8] = [
    "getrandom",
    "rand",
    "rand_core",
    "fastrand",
    "chrono",
    "time",
    "tempfile",
    "uuid",
];

/// Words that reach for one of these.
const IMPURE_WORDS: [&str; 14] = [
    "std::fs",
    "std::net",
    "std::env",
    "std::process",
    "std::thread",
    "std::time",
    "std::io::stdin",
    "SystemTime",
    "Instant",
    "Timestamp::now",
    "Zoned::now",
    "getrandom",
    "thread_rng",
    "OsRng",
];

fn metadata() -> Metadata {
    let mut command = MetadataCommand::new();
    command.manifest_path(repository().join("Cargo.toml")).no_deps();
    command.other_options(["--offline".to_owned()]);
    command.exec().unwrap()
}

fn members() -> BTreeMap<String, Package> {
    let packages = metadata().packages.into_iter();
    packages.map(|package| (package.name.to_string(), package)).collect()
}

/// What a package depends on: for itself, or also for its tests.
fn uses(package: &Package, for_tests: bool) -> BTreeSet<String> {
    let wanted = |kind| for_tests || kind != DependencyKind::Development;
    let used = package.dependencies.iter().filter(|d| wanted(d.kind));
    used.map(|d| d.name.clone()).collect()
}

#[test]
fn each_crate_uses_exactly_the_crates_that_it_may() {
    let members = members();
    let known: BTreeSet<&str> = ARROWS.iter().map(|(name, _)| *name).chain([FREE]).collect();
    let found: BTreeSet<&str> = members.keys().map(String::as_str).collect();
    assert_eq!(found, known, "a member of the workspace without a rule here");
    for (name, allowed) in ARROWS {
        let allowed: BTreeSet<String> = allowed.iter().map(|a| (*a).to_owned()).collect();
        let is_ours = |used: &String| known.contains(used.as_str());
        let used: BTreeSet<String> = uses(&members[name], false).into_iter().filter(is_ours).collect();
        assert_eq!(used, allowed, "what {name} uses of ours");
        let in_tests: Vec<String> = uses(&members[name], true).into_iter().filter(is_ours).collect();
        let beyond: Vec<_> = in_tests.iter().filter(|used| !allowed.contains(*used)).collect();
        assert!(beyond.is_empty(), "the tests of {name} use {beyond:?}");
    }
}

#[test]
fn each_heavy_package_has_one_home() {
    let members = members();
    for (heavy, home) in HOMES {
        for (name, package) in members.iter().filter(|(name, _)| *name != FREE && *name != home) {
            assert!(
                !uses(package, true).contains(heavy),
                "{heavy} lives in {home}, yet {name} uses it"
            );
        }
    }
    // So that the list above does not go stale unnoticed. The daemon's packages come as the daemon grows.
    for (heavy, home) in &HOMES[..5] {
        assert!(
            uses(&members[*home], false).contains(*heavy),
            "{home} does not use {heavy}"
        );
    }
}

#[test]
fn pure_crates_use_no_impure_package() {
    let members = members();
    for name in PURE {
        let used = uses(&members[&format!("gladhand-{name}")], false);
        for impure in IMPURE_PACKAGES {
            assert!(!used.contains(impure), "gladhand-{name} is pure, yet it uses {impure}");
        }
    }
}

#[test]
fn pure_crates_touch_nothing_outside() {
    let mut scanned = 0;
    for name in PURE {
        let src = repository().join("crates").join(name).join("src");
        for file in files_below(&src).iter().filter(|file| is_program(file)) {
            let text = std::fs::read_to_string(src.join(file)).unwrap();
            let reaches = impure_words(&program_only(&text));
            assert!(
                reaches.is_empty(),
                "crates/{name}/src/{} reaches for {reaches:?}",
                file.display()
            );
            scanned += 1;
        }
    }
    assert!(scanned > 40, "only {scanned} files were scanned");
}

#[test]
fn the_scan_sees_what_it_looks_for_and_no_more() {
    let sample = r##"
        //! Not std::fs in a comment.
        use std::collections::BTreeMap; /* nor std::net here */
        const TEXT: &str = "nor std::env in \" a text";
        const RAW: &str = r#"nor "std::process" here"#;
        fn quote<'a>(c: char) -> bool { c == '"' || c == '\'' }
        #[cfg(test)]
        mod tests { use std::fs; fn f() { let _ = "}"; } }
        #[cfg(test)]
        #[path = "a_tests.rs"]
        mod more;
        fn after() {}
    "##;
    let program = program_only(sample);
    assert_eq!(impure_words(&program), Vec::<String>::new(), "{program}");
    assert!(
        program.contains("fn after()") && program.contains("fn quote"),
        "{program}"
    );
    assert!(
        !program.contains("mod tests") && !program.contains("mod more"),
        "{program}"
    );
    for (bad, word) in [
        ("use std::{collections::BTreeMap, fs::File};", "std::fs"),
        ("use std::time::{Duration, Instant};", "std::time"),
        ("let t = jiff::Timestamp::now();", "Timestamp::now"),
        ("std :: env :: var(x)", "std::env"),
    ] {
        assert!(impure_words(&program_only(bad)).contains(&word.to_owned()), "{bad}");
    }
}

fn is_program(file: &Path) -> bool {
    let name = file.to_string_lossy();
    name.ends_with(".rs") && !name.ends_with("_tests.rs") && !name.ends_with("_props.rs")
}

/// The impure words in a text without comments, strings and tests.
fn impure_words(program: &str) -> Vec<String> {
    let dense: String = program.split_whitespace().collect::<Vec<_>>().join(" ");
    let dense = dense.replace(" ::", "::").replace(":: ", "::");
    let mut text = dense.clone();
    // `use std::{a, b::c}` as if each were written out.
    for group in dense.split("std::{").skip(1) {
        let inner = group.split('}').next().unwrap_or_default();
        text.extend(inner.split(',').map(|part| format!(" std::{}", part.trim())));
    }
    let is_word = |c: char| c.is_alphanumeric() || c == '_';
    let stands = |word: &str| {
        text.match_indices(word).any(|(at, _)| {
            let before = text[..at].chars().next_back();
            let after = text[at + word.len()..].chars().next();
            !before.is_some_and(is_word) && !after.is_some_and(is_word)
        })
    };
    let found = IMPURE_WORDS.iter().filter(|word| stands(word));
    found.map(|word| (*word).to_owned()).collect()
}

/// The text without comments, strings and whatever stands under `#[cfg(test)]`.
fn program_only(text: &str) -> String {
    let mut rest = without_comments_and_strings(text);
    while let Some(at) = rest.find("#[cfg(test)]") {
        let after = &rest[at..];
        let end = end_of_item(after);
        rest = format!("{}{}", &rest[..at], &after[end..]);
    }
    rest
}

/// Where the item that `text` begins with ends: at its semicolon, or at the brace that closes it.
fn end_of_item(text: &str) -> usize {
    let mut depth = 0;
    for (at, c) in text.char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth == 1 => return at + 1,
            '}' => depth -= 1,
            ';' if depth == 0 => return at + 1,
            _ => {}
        }
    }
    text.len()
}

fn without_comments_and_strings(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let skipped = skipped_at(rest, out.chars().next_back());
        if skipped == 0 {
            out.push(c);
            rest = &rest[c.len_utf8()..];
        } else {
            out.push(' ');
            rest = &rest[skipped..];
        }
    }
    out
}

/// How long the comment, string or character is that `rest` begins with; 0 when it begins with none.
fn skipped_at(rest: &str, before: Option<char>) -> usize {
    let to = |end: Option<usize>| end.unwrap_or(rest.len());
    if rest.starts_with("//") {
        return to(rest.find('\n'));
    }
    if rest.starts_with("/*") {
        return to(rest.find("*/").map(|at| at + 2));
    }
    if rest.starts_with('"') {
        return to(end_of_quoted(rest, '"'));
    }
    let in_word = before.is_some_and(|c| c.is_alphanumeric() || c == '_');
    if let Some(hashes) = rest.strip_prefix('r').filter(|_| !in_word) {
        let count = hashes.len() - hashes.trim_start_matches('#').len();
        let end = format!("\"{}", "#".repeat(count));
        if let Some(inner) = hashes[count..].strip_prefix('"') {
            return to(inner.find(&end).map(|at| 1 + count + 1 + at + end.len()));
        }
    }
    // A character, not a lifetime: one that is closed after one or an escape.
    let mut quoted = rest.chars();
    match (quoted.next(), quoted.next(), quoted.next()) {
        (Some('\''), Some('\\'), _) => to(end_of_quoted(rest, '\'')),
        (Some('\''), Some(c), Some('\'')) => 2 + c.len_utf8(),
        _ => 0,
    }
}

/// Behind the quote that closes what `rest` begins with.
fn end_of_quoted(rest: &str, quote: char) -> Option<usize> {
    let mut escaped = false;
    for (at, c) in rest.char_indices().skip(1) {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            c if c == quote => return Some(at + c.len_utf8()),
            _ => {}
        }
    }
    None
}
