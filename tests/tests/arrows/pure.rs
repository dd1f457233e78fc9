//! The pure crates touch nothing outside.

use std::collections::BTreeSet;

use gladhand_tests::repository;

use crate::imports::{imports, paths};
use crate::packages::{members, uses};
use crate::rules::{IMPURE_NAMES, IMPURE_PACKAGES, PURE};
use crate::sources::Sources;
use crate::tokens::{self, Token};

#[test]
fn pure_crates_use_no_impure_package() {
    let members = members();
    for name in PURE {
        let used = uses(&members[&format!("gladhand-{name}")], false);
        for impure in IMPURE_PACKAGES {
            assert!(!used.contains(*impure), "gladhand-{name} is pure, yet it uses {impure}");
        }
    }
}

#[test]
fn pure_crates_touch_nothing_outside() {
    let mut scanned = 0;
    for name in PURE {
        let sources = Sources::read(&repository().join("crates").join(name).join("src"));
        for module in sources.modules.values() {
            let reaches = impure_names(&module.tokens);
            let file = sources.name(module.file);
            assert!(reaches.is_empty(), "crates/{name}/src/{file} reaches for {reaches:?}");
        }
        scanned += sources.files.len();
    }
    assert!(scanned > 40, "only {scanned} files were scanned");
}

/// The impure names in a program, however they are imported.
fn impure_names(program: &[Token]) -> BTreeSet<&'static str> {
    let imported = imports(program).into_iter().map(|import| import.path);
    let mut named: Vec<Vec<String>> = imported.chain(paths(program)).collect();
    words(program, &mut named);
    let stands = |name: &str| {
        let name: Vec<&str> = name.split("::").collect();
        named
            .iter()
            .any(|path| path.windows(name.len()).any(|part| part == name))
    };
    IMPURE_NAMES.iter().copied().filter(|name| stands(name)).collect()
}

fn words(tokens: &[Token], found: &mut Vec<Vec<String>>) {
    for token in tokens {
        match token {
            Token::Word { text, .. } => found.push(vec![text.clone()]),
            Token::Group { inside, .. } => words(inside, found),
            Token::Sign(_) | Token::Literal => {}
        }
    }
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
        use std::env::{self, vars};
        #[cfg(all(test, unix))]
        #[path = "a_tests.rs"]
        mod more;
        fn after() { InstantPizza::bake(); }
    "##;
    let program = tokens::program(sample);
    assert_eq!(impure_names(&program.tokens), BTreeSet::new());
    let text = format!("{:?}", program.tokens);
    assert!(text.contains("after") && text.contains("quote"), "{text}");
    assert!(!text.contains("tests") && !text.contains("more"), "{text}");
    for (bad, name) in [
        ("use std::{collections::BTreeMap, fs::File};", "std::fs"),
        ("use std::time::{Duration, Instant};", "std::time"),
        ("fn f() { let t = jiff::Timestamp::now(); }", "Timestamp::now"),
        ("fn f() { print!(\"{:?}\", std :: env :: var(x)); }", "std::env"),
        ("fn f(at: Instant) {}", "Instant"),
    ] {
        assert!(impure_names(&tokens::program(bad).tokens).contains(name), "{bad}");
    }
}
