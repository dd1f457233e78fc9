use super::*;
use crate::section::read_document;

fn band(text: &str) -> Band {
    read_document(text, |s| Band::read(s, None)).unwrap().unwrap()
}

fn m(text: &str) -> Measure {
    Measure::parse(text).unwrap()
}

#[test]
fn edges_belong_or_do_not() {
    let rows = [
        (
            "at-least = \"1/2 in\"",
            ["under", "inside", "inside"],
            "at least 1/2 in",
        ),
        ("over = \"1/2 in\"", ["under", "under", "inside"], "more than 1/2 in"),
        ("at-most = \"12.7 mm\"", ["inside", "inside", "over"], "at most 12.7 mm"),
        ("below = \"1/2 in\"", ["inside", "over", "over"], "less than 1/2 in"),
        ("exactly = \"1/2 in\"", ["under", "inside", "over"], "exactly 1/2 in"),
    ];
    let side = |word: &str| match word {
        "under" => Side::Under,
        "inside" => Side::Inside,
        _ => Side::Over,
    };
    for (text, wanted, shown) in rows {
        let band = band(text);
        for (depth, word) in ["31/64 in", "0.5 in", "33/64 in"].into_iter().zip(wanted) {
            assert_eq!(band.side(&m(depth)), Some(side(word)), "{text}: {depth}");
        }
        assert_eq!(band.to_string(), shown);
    }
    assert_eq!(band("at-least = 3").side(&m("3 in")), None);
    assert_eq!(
        band("over = \"1/2 in\"\nbelow = \"1 in\"").to_string(),
        "over 1/2 in to just under 1 in"
    );
}

#[test]
fn spans_and_order() {
    let middle = band("at-least = \"10 mm\"\nbelow = \"20 mm\"");
    let mm = |n: i128| Exact::from_integer(n);
    assert!(middle.holds_all(mm(10), mm(19)) && !middle.holds_all(mm(10), mm(20)) && !middle.holds_all(mm(9), mm(12)));
    assert!(middle.touches(mm(5), mm(10)) && middle.touches(mm(5), mm(30)) && middle.touches(mm(19), mm(30)));
    assert!(!middle.touches(mm(20), mm(30)) && !middle.touches(mm(5), mm(9)));
    assert!(middle.is_before(&band("at-least = \"20 mm\"")));
    assert!(!middle.is_before(&band("at-least = \"19 mm\"")));
    assert!(!band("at-most = \"20 mm\"").is_before(&band("at-least = \"20 mm\"")));
    assert!(band("at-most = \"20 mm\"").is_before(&band("over = \"20 mm\"")));
    assert!(!band("at-least = \"20 mm\"").is_before(&middle));
}
