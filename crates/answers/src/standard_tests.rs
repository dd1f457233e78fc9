use super::*;
use crate::small_home::{SmallHome, keys, shown};

const OWN_NAME: &str = "version = \"Larkspur 2026-03\"";

fn own_text() -> String {
    let built_in = format!("version = \"{}\"", Standard::built_in().version());
    let own = BUILT_IN.replace(&built_in, OWN_NAME);
    assert!(own.contains(OWN_NAME));
    own
}

#[test]
fn the_standard_in_force_is_shown_with_its_origin() {
    let mut depot = SmallHome::depot();
    let built_in = super::shown(&depot.node);
    let expected = [
        "checks",
        "example",
        "from",
        "hints",
        "office",
        "proof_answers",
        "stand_down_reasons",
        "standard",
        "text",
    ];
    assert_eq!(keys(&built_in), expected);
    assert!(built_in.contents.example && built_in.contents.stand_down_reasons.len() == 10);
    assert!(built_in.text == BUILT_IN && built_in.from.starts_with("which comes with this version; "));

    let text = own_text();
    let published = publish(&mut depot.node, &text).unwrap();
    assert_eq!(keys(&published), ["published", "standard"]);
    let lines = shown(&published);
    assert!(
        lines.starts_with("published work standard Larkspur 2026-03\n~Every node"),
        "{lines}"
    );
    let again = publish(&mut depot.node, &text).unwrap();
    assert_eq!(shown(&again), "work standard Larkspur 2026-03 is in force already\n");

    let own = super::shown(&depot.node);
    assert_eq!((own.from.as_str(), &own.text), ("published by harrow-street", &text));
    assert_eq!(
        shown(&own),
        format!("~work standard Larkspur 2026-03, published by harrow-street\n{text}")
    );
}

#[test]
fn a_standard_that_was_checked_counts_what_it_requires() {
    let standard = Standard::parse(&own_text()).unwrap();
    let told = checked("own.toml", &standard);
    let expected = [
        "checks",
        "example",
        "file",
        "hints",
        "office",
        "proof_answers",
        "stand_down_reasons",
        "standard",
    ];
    assert_eq!(keys(&told), expected);
    let required = standard.checks().iter().filter(|check| check.is_required()).count();
    let all = standard.checks().len();
    assert!(required > 0 && required < all);
    assert_eq!(
        shown(&told),
        format!("own.toml: good. Work standard Larkspur 2026-03: {all} checks, {required} of them required\n")
    );
}

/// Reports, clearance answers and pages say so as long as a standard is an example.
#[test]
fn an_example_is_called_one_until_a_fleet_has_reviewed_it() {
    let note = example_note(&Standard::built_in()).unwrap();
    assert!(
        note.starts_with("Work standard Gladhand example 3 is an example: nobody in this fleet"),
        "{note}"
    );
    let reviewed = own_text().replace("example = true", "example = false");
    assert_eq!(example_note(&Standard::parse(&reviewed).unwrap()), None);
}

#[test]
fn a_check_says_for_which_purposes_it_is() {
    let contents = Contents::of(&Standard::built_in());
    let purposes = |name: &str| {
        contents
            .checks
            .iter()
            .find(|c| c.name == name)
            .unwrap()
            .purposes
            .clone()
    };
    assert_eq!(purposes("hole-closed"), ["take-off"]);
    assert_eq!(purposes("doors-closed"), ["fit", "replace", "prove"]);
    assert!(purposes("post-covered").is_empty(), "of all purposes");
}
