//! What a person reads who edited the standard wrongly: the line, the key, what is wrong, what belongs there.

use super::*;
use crate::standard::{BUILT_IN, Standard};
use proptest::prelude::*;

/// The message after `old` was replaced by `new` in the built-in standard, and the line of `new` there.
fn spoiled(old: &str, new: &str) -> (String, Option<usize>, usize) {
    assert!(BUILT_IN.contains(old), "the built-in standard has no {old:?}");
    let text = BUILT_IN.replacen(old, new, 1);
    let error = Standard::parse(&text).expect_err(&format!("{new:?} was taken"));
    let line = line_of(&text, BUILT_IN.find(old).unwrap());
    (error.to_string(), error.line(), line)
}

#[test]
fn every_mistake_names_its_line_and_says_what_to_do() {
    // What is replaced, by what, how many lines further down the mistake is named, and words of the message.
    let rows: [(&str, &str, usize, &[&str]); 30] = [
        (
            "tolerance = \"1/4 in\"",
            "tolerence = \"1/4 in\"",
            0,
            &["check[5].tolerence", "did you mean `tolerance`?"],
        ),
        (
            "drift-ppm",
            "drift",
            0,
            &["clock.drift", "the keys here are: off-over, drift-ppm, unmeasured"],
        ),
        ("[retention]", "[retain]", 0, &["no key `retain`"]),
        (
            "tolerance = \"1/4 in\"",
            "tolerance = \"1/4 min\"",
            0,
            &["check[5].tolerance", "write a length"],
        ),
        (
            "tolerance = \"1/4 in\"",
            "tolerance = \"a bit\"",
            0,
            &["no measure", "write a length"],
        ),
        (
            "tolerance = \"1/4 in\"",
            "tolerance = 0.25",
            0,
            &["holds a value of type float"],
        ),
        ("tolerance = \"1/4 in\"", "tolerance = \"-1/4 in\"", 0, &["below zero"]),
        (
            "wants = \"measure\"",
            "wants = \"measured\"",
            0,
            &["says 'measured'", "write one of: seen, measure, wait"],
        ),
        (
            "wants = \"measure\"",
            "wants = \"seen\"",
            1,
            &["check[5].value", "has no meaning beside wants = \"seen\""],
        ),
        (
            "step = \"arrive\"",
            "step = \"arival\"",
            0,
            &["check[1].step", "write one of: arrive, ladder"],
        ),
        (
            "load = [\"loaded\"]",
            "load = [\"laden\"]",
            0,
            &["says 'laden'", "empty, loaded"],
        ),
        (
            "check = \"post-covered\"",
            "check = \"post-coverd\"",
            0,
            &["made-good-by", "names the check 'post-coverd'"],
        ),
        (
            "from = \"primed\"",
            "from = \"prime\"",
            0,
            &["check[18].from", "which does not exist"],
        ),
        (
            "at-least = \"12 in\"",
            "at-least = \"12 in\"\nbelow = \"12 in\"",
            1,
            &["leaves nothing above the lower end"],
        ),
        (
            "at-least = \"12 in\"",
            "at-least = \"12 in\"\nover = \"12 in\"",
            1,
            &["contradicts the other end"],
        ),
        (
            "exactly = 4",
            "exactly = 4\nat-least = 3",
            0,
            &["exactly", "contradicts the other end"],
        ),
        (
            "name = \"tape-pieces\"",
            "name = \"rivet-count\"",
            8,
            &["is defined a second time"],
        ),
        (
            "answers = [\"front-wall-seen\", ",
            "answers = [3, ",
            0,
            &["proof.answers", "write a list of texts"],
        ),
        (
            "drift-ppm = 100",
            "drift-ppm = -1",
            0,
            &["clock.drift-ppm", "is -1", "at least 0"],
        ),
        (
            "off-over = \"120 s\"",
            "off-over = \"120 in\"",
            0,
            &["clock.off-over", "write a time"],
        ),
        (
            "camera = \"none\"",
            "camera = \"mod-10\"",
            0,
            &["codes.camera", "says 'mod-10'", "none, luhn, imei"],
        ),
        ("camera = \"none\"\n", "", 0, &["`codes.camera` is missing"]),
        ("count = 4", "count = 0", 0, &["kit[3].count", "at least 1"]),
        (
            "always = \"clear\"",
            "always = \"blocked\"",
            0,
            &["`clearance.table[1].why` is missing"],
        ),
        (
            "{ at-least = \"2 in\", answer = \"clear\" }",
            "{ at-least = \"2 in\", at-most = \"3 in\", answer = \"clear\" }",
            0,
            &["bands[3].answer", "only the deepest band"],
        ),
        (
            "{ at-least = \"5/8 in\", at-most",
            "{ at-least = \"3/8 in\", at-most",
            0,
            &["does not begin above the band before"],
        ),
        ("version = ", "version ", 0, &["this is not TOML"]),
        (
            "at-least = \"-60 °C\"",
            "value = \"18 °C\"\ntolerance = \"5 °F\"",
            0,
            &["is a temperature with a tolerance"],
        ),
        ("example = true", "example = \"yes\"", 0, &["write true or false"]),
        (
            "name = \"weather\"\n",
            "nam = \"weather\"\n",
            0,
            &["stand-down[8].nam", "did you mean `name`?"],
        ),
    ];
    for (old, new, further, words) in rows {
        let (message, line, at) = spoiled(old, new);
        for word in words {
            assert!(message.contains(word), "{new:?}: {message:?} lacks {word:?}");
        }
        if !message.contains("is missing") && !message.contains("second time") {
            assert_eq!(line, Some(at + further), "{new:?}: {message}");
        }
        assert!(message.starts_with(&format!("line {}: ", line.unwrap())), "{message}");
    }
}

/// What is missing is named at the table that lacks it.
#[test]
fn what_is_missing_is_named_at_its_table() {
    let header_line = |header: &str| BUILT_IN.lines().position(|l| l == header).unwrap() + 1;
    let (message, line, _) = spoiled("off-over = \"120 s\"", "#");
    assert!(
        message.contains("`clock.off-over` is missing: write a time"),
        "{message}"
    );
    assert_eq!(line, Some(header_line("[clock]")));
    let (message, line, _) = spoiled("name = \"tracker-reporting\"\n", "");
    assert!(message.contains("`check[1].name` is missing"), "{message}");
    assert_eq!(line, Some(header_line("[[check]]")));
    let (message, ..) = spoiled(
        "wall = [\"plate\"]\nload = [\"loaded\"]\nfreight",
        "wall = [\"plate\"]\nload = [\"empty\"]\nfreight",
    );
    assert!(
        message.contains("no [[clearance.table]]") || message.contains("second table"),
        "{message}"
    );
}

/// The tables of a clearance are refused when they could let something unsafe through.
#[test]
fn an_unsafe_or_incomplete_table_is_refused() {
    let rows = [
        (
            "below = \"1/2 in\", answer = \"next\"",
            "below = \"1/2 in\", answer = \"clear\"",
            "only the deepest band",
        ),
        (
            "{ exactly = \"5/8 in\", answer = \"blocked\", why = \"the wall is too thick\" }",
            "{ exactly = \"5/8 in\", answer = \"next\" }",
            "leads to a next probe",
        ),
        (
            "always = \"clear\"",
            "freight = \"recorded\"",
            "`clearance.table[1].probe` is missing",
        ),
        (
            "freight = \"blocks\"",
            "freight = \"blocks\"\nalways = \"clear\"",
            "is given together with probes",
        ),
        (
            "wall = [\"plate\", \"sheet-and-post\"]\nload = [\"empty\"]",
            "wall = [\"plate\"]\nload = [\"empty\"]",
            "add a [[clearance.table]] for wall \"sheet-and-post\", load \"empty\"",
        ),
        (
            "wall = [\"plate\", \"sheet-and-post\"]\nload = [\"empty\"]",
            "wall = [\"plate\", \"sheet-and-post\"]\nload = [\"empty\", \"loaded\"]",
            "second table for wall \"plate\", load \"loaded\"",
        ),
        (
            "check = \"second-probe\"",
            "check = \"last-probe\"",
            "names the check 'last-probe'",
        ),
        (
            "cut-shown-by = [\"hole-cut\", \"hole-diameter\"]",
            "cut-shown-by = []",
            "`clearance.cut-shown-by` is missing",
        ),
    ];
    for (old, new, wanted) in rows {
        let (message, ..) = spoiled(old, new);
        assert!(message.contains(wanted), "{new:?}: {message}");
    }
}

#[test]
fn a_huge_text_is_refused_before_it_is_read() {
    let error = Standard::parse(&" ".repeat(MAX_TEXT_BYTES + 1)).unwrap_err();
    assert_eq!(
        error,
        StandardError::TooLong {
            bytes: MAX_TEXT_BYTES + 1
        }
    );
    assert_eq!(error.line(), None);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// A slip of the hand anywhere is read or refused with a line that exists, never worse.
    #[test]
    fn no_slip_panics(at in 0..BUILT_IN.len(), cut in 0usize..30, put in "[\\PC\n]{0,3}") {
        let from = (0..=at).rev().find(|i| BUILT_IN.is_char_boundary(*i)).unwrap_or(0);
        let to = (at + cut..=BUILT_IN.len()).find(|i| BUILT_IN.is_char_boundary(*i)).unwrap_or(BUILT_IN.len());
        let text = format!("{}{put}{}", &BUILT_IN[..from], &BUILT_IN[to.max(from)..]);
        if let Err(error) = Standard::parse(&text) {
            let line = error.line().unwrap();
            prop_assert!((1..=text.lines().count() + 1).contains(&line), "{error}");
        }
    }

    /// A key that does not exist is refused wherever it is put.
    #[test]
    fn a_stranger_is_never_ignored(at in 0usize..600) {
        let mut lines: Vec<&str> = BUILT_IN.lines().collect();
        let at = at.min(lines.len());
        lines.insert(at, "stranger = true");
        let text = lines.join("\n");
        prop_assert!(Standard::parse(&text).is_err(), "taken at line {}", at + 1);
    }
}
