//! SECURITY.md promises nothing that no test holds: each test that it names is there, and each list item that promises names one.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use gladhand_tests::repository;

/// What stands between backquotes and names a test: file and function.
fn named(text: &str) -> Vec<(String, String)> {
    let quoted = text.split('`').skip(1).step_by(2);
    let pair = |q: &str| {
        q.split_once(".rs::")
            .map(|(file, test)| (format!("{file}.rs"), test.to_owned()))
    };
    quoted.filter_map(pair).collect()
}

/// Whether `source` has a test function of this name: the attribute stands above it, with nothing but attributes between.
fn is_a_test(source: &str, name: &str) -> bool {
    let lines: Vec<&str> = source.lines().map(str::trim).collect();
    let defines = |line: &str| {
        let line = line.strip_prefix("async ").unwrap_or(line);
        line.strip_prefix("fn ")
            .and_then(|l| l.strip_prefix(name))
            .is_some_and(|l| l.starts_with('('))
    };
    lines.iter().enumerate().any(|(at, line)| {
        let above = lines[..at].iter().rev().take_while(|l| l.starts_with("#["));
        defines(line)
            && above
                .into_iter()
                .any(|l| l.starts_with("#[test]") || l.starts_with("#[tokio::test"))
    })
}

#[test]
fn every_test_that_security_names_is_there() {
    let text = std::fs::read_to_string(repository().join("SECURITY.md")).unwrap();
    let tests = named(&text);
    assert!(tests.len() >= 30, "only {} tests are named", tests.len());
    for (file, test) in &tests {
        let source = std::fs::read_to_string(repository().join(file)).unwrap_or_else(|e| panic!("{file}: {e}"));
        assert!(
            is_a_test(&source, test),
            "SECURITY.md names {file}::{test}, which is no test"
        );
    }
}

#[test]
fn every_promise_names_a_test() {
    let text = std::fs::read_to_string(repository().join("SECURITY.md")).unwrap();
    let items = text
        .split("\n- ")
        .skip(1)
        .map(|item| item.split("\n\n").next().unwrap());
    for item in items {
        // The one item that only points at another section.
        let points = item.contains("is in the case above");
        assert!(points || !named(item).is_empty(), "no test holds this promise: {item}");
    }
}

#[test]
fn what_is_no_test_is_told_apart() {
    let source = "#[test]\nfn one() {}\nfn two() {}\n#[tokio::test(flavor = \"multi_thread\")]\nasync fn three() {}\n";
    let found = ["one", "two", "three", "on"].map(|name| is_a_test(source, name));
    assert_eq!(found, [true, false, true, false]);
}
