use super::*;
use crate::codes::tests::Dice;
use crate::codes::{CodeRule, CodeVerdict};

const ALPHABET: &str = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ";

/// The worked example of 49 CFR 565.15(c), table by table: values, weights, products, sum 411, remainder 4.
#[test]
fn the_worked_example_comes_out_product_by_product() {
    let vin = "1G4AH59H45G118341";
    let products = [8, 49, 24, 5, 32, 15, 18, 80, 0, 45, 56, 7, 6, 40, 12, 12, 2];
    for ((c, weight), product) in vin.chars().zip(WEIGHTS).zip(products) {
        assert_eq!(value(c).unwrap() * weight, product, "{c}");
    }
    let sum: u32 = products.iter().sum();
    assert_eq!((sum, sum % 11), (411, 4));
    assert_eq!(check_character(vin), Ok('4'));
    assert_eq!(check(vin), Ok(()));
}

/// The letters' values of 49 CFR 565.15(c), table III.
#[test]
fn letters_have_the_values_of_the_table() {
    let table = "A1 B2 C3 D4 E5 F6 G7 H8 J1 K2 L3 M4 N5 P7 R9 S2 T3 U4 V5 W6 X7 Y8 Z9";
    for pair in table.split(' ') {
        let (letter, digit) = pair.split_at(1);
        assert_eq!(value(letter.chars().next().unwrap()), digit.parse().ok(), "{pair}");
    }
    assert_eq!(['I', 'O', 'Q', '-', 'É'].map(value), [None; 5]);
}

/// `1M8GDM9AXKP042788`: sum 351, remainder 10, written X (TRADE §5; the doc example of crate vin_parser as well).
#[test]
fn ten_is_written_x() {
    let vin = "1M8GDM9AXKP042788";
    let sum: u32 = vin.chars().zip(WEIGHTS).map(|(c, w)| value(c).unwrap() * w).sum();
    assert_eq!((sum, sum % 11), (351, 10));
    assert_eq!(CodeRule::Vin.check(vin), CodeVerdict::Fits);
    assert_eq!(CodeRule::Vin.check(" 1m8gdm9axkp042788 "), CodeVerdict::Fits);
}

/// The weights add up to 89 = 1 mod 11, so any digit seventeen times gives itself.
#[test]
fn one_digit_repeated_is_refused_although_its_sum_fits() {
    assert_eq!(WEIGHTS.iter().sum::<u32>() % 11, 1);
    for digit in '0'..='9' {
        let vin: String = std::iter::repeat_n(digit, 17).collect();
        assert_eq!(check_character(&vin), Ok(digit));
        assert_eq!(check(&vin), Err(Misfit::Repeated));
    }
}

#[test]
fn what_does_not_fit_is_named() {
    let why = |vin: &str| match CodeRule::Vin.check(vin) {
        CodeVerdict::Fails { why } => why,
        other => panic!("{vin}: {other:?}"),
    };
    assert_eq!(
        why("1G4AH59H45G11834I"),
        "has 'I' in place 17; a VIN has digits and letters without I, O and Q"
    );
    assert_eq!(why("1G4AH59H45G1183"), "has 15 characters; a VIN has 17");
    assert_eq!(
        why("1G4AH59H55G118341"),
        "has the check character '5', but the rest gives '4'"
    );
    // A European VIN of a maker who is not bound by the rule fails: a question, never a refusal.
    assert!(why("WP0ZZZ99ZTS392124").contains("check character 'Z'"));
}

/// Against crate vin_parser, which looks values up in a map and knows nothing of ours.
#[test]
fn ten_thousand_agree_with_an_independent_library() {
    let mut dice = Dice::new(565);
    let mut fits = 0;
    for round in 0..10_000 {
        let mut vin = dice.code(ALPHABET, 17);
        if round % 2 == 0 {
            vin.replace_range(8..9, &check_character(&vin).unwrap().to_string());
        }
        let theirs = vin_parser::verify_checksum(&vin).is_ok();
        assert_eq!(check(&vin).is_ok(), theirs, "{vin}");
        fits += usize::from(theirs);
    }
    assert!(fits >= 5_000, "only {fits} of them fit");
}

/// Known limit: letters of one value stand for each other, and neighbours whose products swap evenly are not seen.
#[test]
fn some_slips_pass_unseen() {
    assert_eq!(check("1G4JH59H45G118341"), Ok(()), "A and J are both 1");
    // Weights 10 and 0: nothing in place 9 weighs; weights 2 and 10 in places 7 and 8: 2a + 10b = 2b + 10a
    // modulo 11 only for a = b, so neighbours of different value there are always seen.
    for (a, b) in [('1', '2'), ('0', '9'), ('4', '8')] {
        let with = |x: char, y: char| check_character(&format!("1G4AH5{x}{y}05G118341")).unwrap();
        assert_ne!(with(a, b), with(b, a));
    }
}
