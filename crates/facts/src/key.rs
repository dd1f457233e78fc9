//! What is compared when two names are: their keys. What is written is kept and shown as it was written.
//!
//! A code (trailer, VIN, tracker, camera and the like) is read off labels and painted numbers by people and scanners, who
//! disagree about case, spaces and dashes only. A name (job, fleet, yard, person) keeps its words and its signs; case and the
//! width of its gaps do not matter. Both are Unicode NFKC (UAX #15), so full-width and ligature forms compare like plain ones.
//!
//! Invariant: a key is its own key.

use unicode_normalization::UnicodeNormalization;

/// The key of a code: NFKC, upper case, without white space, dashes of any kind, `.`, `/` and `_`. Empty when nothing is left.
pub fn code_key(code: &str) -> String {
    if code.is_ascii() {
        // NFKC changes no ASCII.
        let kept = |c: &char| c.is_ascii_alphanumeric() || !is_dropped(*c);
        return code.chars().filter(kept).map(|c| c.to_ascii_uppercase()).collect();
    }
    let kept = code.nfkc().filter(|c| !is_dropped(*c));
    let upper: String = kept.flat_map(char::to_uppercase).collect();
    upper.nfkc().filter(|c| !is_dropped(*c)).collect()
}

/// The key of a name: NFKC, case-folded, white space collapsed. Empty when nothing is left.
pub fn name_key(name: &str) -> String {
    if name.is_ascii() {
        return single_spaced(&name.to_ascii_lowercase());
    }
    // Upper case first: that is how full case folding makes `ß` and `SS` one.
    let folded = |text: &str| -> String {
        text.nfkc()
            .flat_map(char::to_uppercase)
            .flat_map(char::to_lowercase)
            .collect()
    };
    let folded: String = folded(&folded(name)).nfkc().collect();
    single_spaced(&folded)
}

fn single_spaced(text: &str) -> String {
    let mut spaced = String::with_capacity(text.len());
    for word in text.split_whitespace() {
        if !spaced.is_empty() {
            spaced.push(' ');
        }
        spaced.push_str(word);
    }
    spaced
}

fn is_dropped(c: char) -> bool {
    c.is_whitespace() || matches!(c, '.' | '/' | '_') || is_dash(c) || is_unseen(c)
}

/// Unicode's dash punctuation (category Pd), and the minus sign.
fn is_dash(c: char) -> bool {
    matches!(
        c,
        '-' | '\u{58a}' | '\u{5be}' | '\u{1400}' | '\u{1806}' | '\u{2010}'
            ..='\u{2015}'
                | '\u{2212}'
                | '\u{2e17}'
                | '\u{2e1a}'
                | '\u{2e3a}'
                | '\u{2e3b}'
                | '\u{2e40}'
                | '\u{2e5d}'
                | '\u{301c}'
                | '\u{3030}'
                | '\u{30a0}'
                | '\u{fe31}'
                | '\u{fe32}'
                | '\u{fe58}'
                | '\u{fe63}'
                | '\u{ff0d}'
                | '\u{10ead}'
    )
}

/// What no reader of a label can see: soft hyphen, zero-width spaces and joiners.
fn is_unseen(c: char) -> bool {
    matches!(c, '\u{ad}' | '\u{200b}'..='\u{200d}' | '\u{2060}' | '\u{feff}')
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn spellings_of_one_code_are_one() {
        for spelling in [
            "LF 5396",
            "lf-5396",
            "LF5396",
            " l.f/53_96 ",
            "ＬＦ５３９６",
            "LF\u{2013}5396",
            "LF\u{a0}53\u{ad}96",
        ] {
            assert_eq!(code_key(spelling), "LF5396", "{spelling}");
        }
        assert_eq!(code_key("straße 7"), "STRASSE7");
        assert_ne!(code_key("LF 5396"), code_key("LF 5397"));
        assert_eq!(["", ".", " - _/", "\u{200b}"].map(code_key), [""; 4]);
    }

    #[test]
    fn names_keep_their_words_and_signs() {
        assert_eq!(name_key("  Larkspur \t freight "), name_key("LARKSPUR Freight"));
        assert_eq!(name_key("Harrow Straße"), name_key("HARROW STRASSE"));
        assert_ne!(name_key("Larkspur Freight"), name_key("LarkspurFreight"));
        assert_ne!(name_key("J-1"), name_key("J1"));
        assert_eq!(name_key(" \t"), "");
    }

    proptest! {
        #[test]
        fn a_key_is_its_own_key(text in any::<String>()) {
            prop_assert_eq!(code_key(&code_key(&text)), code_key(&text));
            prop_assert_eq!(name_key(&name_key(&text)), name_key(&text));
        }

        /// Plain text takes a shorter way to its key. A letter that is dropped sends it the long way.
        #[test]
        fn plain_text_has_the_key_that_any_text_has(text in "[\\x00-\\x7f]{0,12}") {
            let unseen = format!("{text}\u{ad}");
            prop_assert_eq!(code_key(&unseen), code_key(&text));
            let wide = format!("{text} \u{ff21}");
            prop_assert_eq!(name_key(&wide), name_key(&format!("{text} a")));
        }
    }
}
