use super::*;
use proptest::prelude::*;
use strsim::damerau_levenshtein;

/// The distance in its true form: the restricted one would say 3 for CA and ABC (TRADE §5).
#[test]
fn the_oracle_is_the_true_distance() {
    assert_eq!(damerau_levenshtein("CA", "ABC"), 2);
    assert!(!within_one_edit("CA", "ABC"));
}

#[test]
fn one_slip_of_each_kind_is_near() {
    let stock = [
        "LC-70412",
        "LC-70421",
        "LC-7041",
        "LC-704122",
        "LC-70413",
        "LC-7O412",
        "LC-07421",
        "LC-70412",
    ];
    let near = near_misses("LC-70412", stock.into_iter());
    assert_eq!(near, ["LC-70421", "LC-7041", "LC-704122", "LC-70413", "LC-7O412"]);
    assert_eq!(near_misses("", ["A", "AB"].into_iter()), ["A"]);
    assert_eq!(near_misses("é7", ["e7", "é8", "è77"].into_iter()), ["e7", "é8"]);
}

proptest! {
    /// Random texts over three letters meet every case; over all characters, every width.
    #[test]
    fn agrees_with_the_library(a in "[ABC]{0,6}", b in "[ABC]{0,6}") {
        prop_assert_eq!(within_one_edit(&a, &b), damerau_levenshtein(&a, &b) <= 1, "{} {}", a, b);
    }

    #[test]
    fn agrees_with_the_library_on_any_characters(a in "\\PC{0,5}", b in "\\PC{0,5}") {
        let (a, b) = (a.trim(), b.trim());
        prop_assert_eq!(within_one_edit(a, b), damerau_levenshtein(a, b) <= 1, "{} {}", a, b);
    }

    /// Whatever one slip makes of a code is found again, and never the code itself.
    #[test]
    fn a_slip_is_always_found(code in "[A-Z0-9é]{1,10}", at in 0usize..10, letter in "[A-Z0-9é]", slip in 0..4) {
        let mut letters: Vec<char> = code.chars().collect();
        let at = at % letters.len();
        let new = letter.chars().next().unwrap();
        match slip {
            0 => letters[at] = new,
            1 => letters.insert(at, new),
            2 => drop(letters.remove(at)),
            _ if at + 1 < letters.len() => letters.swap(at, at + 1),
            _ => {}
        }
        let slipped: String = letters.into_iter().collect();
        let found = near_misses(&code, [slipped.as_str()].into_iter());
        prop_assert_eq!(found.len(), usize::from(slipped != code));
    }
}
