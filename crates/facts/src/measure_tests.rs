//! Written forms, exactness, and what is refused.

use super::*;
use proptest::prelude::*;

fn m(text: &str) -> Measure {
    Measure::parse(text).unwrap_or_else(|e| panic!("{text}: {e}"))
}

/// Written forms of the contract §2; the inch is exactly 25.4 mm (international yard and pound agreement, 1959).
#[test]
fn written_forms_are_exact() {
    assert_eq!(m("3/4 in"), m("0.75in"));
    assert_eq!(m("3/4 in"), m("19.05 mm"));
    assert_eq!(m("1 3/4 in"), m("44.45 mm"));
    assert_eq!(m("1-3/4\""), m("1¾ in"));
    assert_eq!(m("½ in"), m("12.7 mm"));
    assert_eq!(m("1 in"), m("2.54 cm"));
    assert_eq!(m(".5 in"), m("0.5 IN"));
    assert!(m("19 mm") < m("3/4 in"));
    assert!(m("1/32 in") > m("0.79 mm"));
    assert_eq!(m("8").dimension(), Dimension::Count);
}

/// 1 lbf·in = 0.1129848 N·m (NIST SP 811, appendix B.8, rounded there to seven digits).
#[test]
fn torque_converts_by_the_published_factor() {
    let difference = m("1 in·lbf").minus(&m("0.1129848 N·m")).unwrap().base();
    assert!(
        difference < Exact::new(1, 10_000_000) && difference > Exact::new(-1, 10_000_000),
        "{difference}"
    );
    assert!(m("25 lbf-in") < m("2.9 Nm"));
}

/// 0 °C is 32 °F and 100 °C is 212 °F (NIST SP 811, appendix B.9: t/°C = (t/°F − 32)/1.8).
#[test]
fn degrees_of_two_scales_are_one_temperature() {
    assert_eq!(m("0 °C"), m("32 °F"));
    assert_eq!(m("100 °C"), m("212°F"));
    assert_eq!(m("-40 C"), m("-40 F"));
    assert_eq!(m("18 °C"), m("64.4 °F"));
    assert!(m("64 °F") < m("18 °C"));
    assert_eq!(m("64 °F").to_string(), "64 °F");
    assert_eq!(m("18 °C").dimension(), Dimension::Temperature);
    assert!(m("18 °C").partial_cmp(&m("18")).is_none());
}

#[test]
fn bad_measures_say_why() {
    assert!(matches!(Measure::parse("3/4 furlong"), Err(MeasureError::UnknownUnit(u)) if u == "furlong"));
    assert!(matches!(Measure::parse("in"), Err(MeasureError::NotANumber(_))));
    assert!(matches!(Measure::parse(""), Err(MeasureError::NotANumber(_))));
    assert!(matches!(
        Measure::parse("1/0 in"),
        Err(MeasureError::ZeroDenominator(_))
    ));
    assert!(matches!(
        Measure::parse("12345678901 mm"),
        Err(MeasureError::TooManyDigits(_))
    ));
    assert!(matches!(Measure::parse("1.2.3 mm"), Err(MeasureError::NotANumber(_))));
    assert!(matches!(Measure::parse("1e3 mm"), Err(MeasureError::UnknownUnit(_))));
    let both = Measure::from_json(&serde_json::json!("3 in"), Some("mm"));
    assert!(matches!(both, Err(MeasureError::TwoUnits { .. })));
}

/// What 128 bits cannot hold exactly is no measure; what they hold is shown exactly where it cannot be rounded.
#[test]
fn numbers_of_too_many_digits_are_refused_or_shown_as_they_are() {
    assert_eq!(Measure::ratio(1, 0, Unit::Inch), None);
    let long = m("123456789.123456789 in·lbf");
    assert_eq!(long.to_string(), "123456789.123457 in·lbf");
    let sum = long.plus(&m("0.000000001 N·m")).unwrap();
    assert_eq!(sum.base(), long.base() + m("0.000000001 N·m").base());
    assert!(sum.to_string().starts_with("123456789.1234"), "{sum}");
    let thirds = Measure::of_seconds(Exact::new(i128::MAX, 3));
    assert_eq!(thirds.to_string(), format!("{}/3 s", i128::MAX));
    assert_eq!(Measure::of_seconds(Exact::new(i128::MAX, 1)).plus(&m("1 s")), None);
}

#[test]
fn a_number_takes_the_unit_beside_it() {
    let read = |v: Value, u| Measure::from_json(&v, u).unwrap();
    assert_eq!(read(serde_json::json!(0.75), Some("in")), m("3/4 in"));
    assert_eq!(read(serde_json::json!("3/4"), Some("in")), m("3/4 in"));
    assert_eq!(read(serde_json::json!("3/4 in"), Some("inch")), m("3/4 in"));
    assert_eq!(read(serde_json::json!(8), None), m("8"));
}

#[test]
fn shown_as_a_person_would_write_it() {
    for text in [
        "3/4 in",
        "1 3/4 in",
        "19 mm",
        "0.1 mm",
        "22 in·lbf",
        "8",
        "-1/2 in",
        "3 min",
    ] {
        assert_eq!(m(text).to_string(), text);
    }
    assert_eq!(m("1/3 in").to_string(), "0.333333 in");
}

proptest! {
    #[test]
    fn no_text_panics(text in "\\PC{0,20}") {
        let _ = Measure::parse(&text);
    }

    #[test]
    fn shown_inches_read_back(n in -6400i64..6400, shift in 0u32..7) {
        let measure = Measure::ratio(n, 1 << shift, Unit::Inch).unwrap();
        prop_assert_eq!(m(&measure.to_string()), measure);
    }

    #[test]
    fn inch_and_millimetre_agree(n in 0i64..100_000) {
        // n/64 in is exactly n * 0.396875 mm, six decimals: both spellings must be the same quantity.
        let micro = i128::from(n) * 396_875;
        let mm = format!("{}.{:06} mm", micro / 1_000_000, micro % 1_000_000);
        prop_assert_eq!(Measure::ratio(n, 64, Unit::Inch).unwrap(), m(&mm));
    }
}
