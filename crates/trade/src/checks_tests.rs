use super::*;
use crate::standard::Standard;
use gladhand_facts::DeviceKey;

fn fact(rest: &str) -> Fact {
    let line = format!(r#"{{"kind":"check","job":"j1","check":"x",{rest}}}"#);
    Fact::from_stored(&DeviceKey([7; 32]), &line).unwrap_or_else(|e| panic!("{line}: {e}"))
}

fn judged(check: &str, rest: &str) -> Verdict {
    let standard = Standard::built_in();
    verdict(standard.check(check).unwrap(), &fact(rest))
}

fn word(verdict: &Verdict) -> &'static str {
    match verdict {
        Verdict::Passes => "passes",
        Verdict::Fails { .. } => "fails",
        Verdict::Unreadable { .. } => "unreadable",
    }
}

fn table(check: &str, rows: &[(&str, &str)]) {
    for (rest, wanted) in rows {
        let verdict = judged(check, rest);
        assert_eq!(word(&verdict), *wanted, "{check} {rest}: {verdict:?}");
    }
}

#[test]
fn a_seen_check_wants_a_yes() {
    table(
        "lens-untouched",
        &[
            (r#""ok":true"#, "passes"),
            (r#""value":true"#, "passes"),
            (r#""value":"Yes""#, "passes"),
            (r#""ok":true,"value":"wiped the bracket only""#, "passes"),
            (r#""answers":{"lens-clean":true}"#, "passes"),
            (r#""ok":false"#, "fails"),
            (r#""ok":true,"value":"no""#, "fails"),
            (r#""ok":true,"answers":{"lens-clean":false}"#, "fails"),
            (r#""note":"looked at it""#, "unreadable"),
            (r#""value":"2 in""#, "unreadable"),
            (r#""ok":"true""#, "unreadable"),
            (r#""ok":null"#, "unreadable"),
        ],
    );
}

/// 1 3/4 in is 44.45 mm exactly; ± 1/16 in is ± 1.5875 mm. The edges belong to the tolerance, a hair beyond does not.
#[test]
fn a_measure_is_compared_exactly() {
    table(
        "hole-diameter",
        &[
            (r#""value":"1 3/4 in""#, "passes"),
            (r#""value":44.45,"unit":"mm""#, "passes"),
            (r#""value":"1 13/16 in""#, "passes"),
            (r#""value":"46.0375 mm""#, "passes"),
            (r#""value":"46.0376 mm""#, "fails"),
            (r#""value":"42.8625 mm","ok":true"#, "passes"),
            (r#""value":"42.8624 mm","ok":true"#, "fails"),
            (r#""value":"1 3/4 in","ok":false"#, "fails"),
            (r#""value":1.75"#, "unreadable"), // no unit: a count
            (r#""value":"45 min""#, "unreadable"),
            (r#""value":"about right""#, "unreadable"),
            (r#""ok":true"#, "unreadable"), // nobody measured
        ],
    );
    let why = judged("hole-diameter", r#""value":"2 in""#);
    assert_eq!(
        why.why(),
        Some("hole-diameter is 2 in; the work standard wants 1 11/16 in to 1 13/16 in")
    );
    let why = judged("hole-diameter", r#""value":8"#);
    assert_eq!(
        why.why(),
        Some("hole-diameter is 8, but a length with its unit is wanted")
    );
}

#[test]
fn a_count_may_be_ticked_off_but_a_wrong_number_fails() {
    table(
        "rivet-count",
        &[
            (r#""value":8"#, "passes"),
            (r#""value":"8","ok":true"#, "passes"),
            (r#""ok":true"#, "passes"),
            (r#""value":true"#, "passes"),
            (r#""value":7"#, "fails"),
            (r#""value":7,"ok":true"#, "fails"),
            (r#""value":"no""#, "fails"),
            (r#""value":"8 in""#, "unreadable"),
            (r#""note":"done""#, "unreadable"),
        ],
    );
}

#[test]
fn readings_and_states_only_have_to_be_readable() {
    table(
        "first-probe",
        &[
            (r#""value":"free""#, "passes"),
            (r#""value":"1/4 in""#, "passes"),
            (r#""value":0.25"#, "unreadable"),
            (r#""ok":true"#, "unreadable"),
            (r#""value":"free","ok":false"#, "fails"),
        ],
    );
    table(
        "freight-at-opening",
        &[
            (r#""value":"no""#, "passes"),
            (r#""value":true"#, "passes"),
            (r#""value":"cannot-be-seen""#, "passes"),
            (r#""ok":true"#, "unreadable"),
        ],
    );
}

fn answers_requirement() -> Standard {
    let text = crate::standard::BUILT_IN.replace(
        "name = \"lens-untouched\"\nsays = \"the lens was neither touched nor cleaned\"\nsource = \"common practice\"\n\
         step = \"finish\"\npurpose = [\"fit\", \"replace\"]\nwants = \"seen\"",
        "name = \"lens-untouched\"\nsays = \"the lens\"\nsource = \"common practice\"\nwants = \"answers\"\n\
         answers = [\"not-touched\", \"not-cleaned\"]",
    );
    Standard::parse(&text).unwrap()
}

#[test]
fn named_answers_must_all_be_given_and_be_yes() {
    let standard = answers_requirement();
    let requirement = standard.check("lens-untouched").unwrap();
    let rows = [
        (r#""answers":{"not-touched":true,"not-cleaned":true}"#, "passes"),
        (r#""answers":{"not-touched":true,"not-cleaned":false}"#, "fails"),
        (r#""answers":{"not-touched":true}"#, "unreadable"),
        (r#""ok":true"#, "unreadable"),
    ];
    for (rest, wanted) in rows {
        assert_eq!(word(&verdict(requirement, &fact(rest))), wanted, "{rest}");
    }
}

#[test]
fn a_wait_is_a_value_or_the_time_between_two_checks() {
    table(
        "primer-wait",
        &[
            (r#""value":"3 min""#, "passes"),
            (r#""value":180,"unit":"s""#, "passes"),
            (r#""value":"179 s""#, "fails"),
            (r#""value":3"#, "unreadable"),
            (r#""ok":true"#, "unreadable"),
        ],
    );
    let standard = Standard::built_in();
    let requirement = standard.check("primer-wait").unwrap();
    assert_eq!(requirement.pair(), Some(("primed", "pressed")));
    let primed = fact(r#""at":"2026-03-02T22:10:00-05:00","ok":true"#);
    let judge = |at: &str, uncertainty_us| {
        let pressed = fact(&format!(r#""at":"{at}","ok":true"#));
        word(&wait_verdict(requirement, &primed, &pressed, uncertainty_us))
    };
    assert_eq!(judge("2026-03-02T22:13:00-05:00", 0), "passes");
    assert_eq!(judge("2026-03-02T22:12:59-05:00", 0), "fails");
    assert_eq!(judge("2026-03-03T03:13:00Z", 0), "passes");
    assert_eq!(judge("2026-03-02T22:09:00-05:00", 0), "fails");
    assert_eq!(judge("2026-03-02T22:13:00-05:00", 1), "unreadable");
    assert_eq!(judge("2026-03-02T22:13:05-05:00", 5_000_000), "passes");
    assert_eq!(judge("2026-03-02T22:12:50-05:00", 5_000_000), "fails");
}

#[test]
fn a_wait_may_be_written_as_times_and_a_bad_half_decides() {
    let standard = Standard::built_in();
    let requirement = standard.check("primer-wait").unwrap();
    let primed = fact(r#""value":"2026-03-02T22:10:00-05:00","at":"2026-03-02T23:00:00-05:00""#);
    let pressed = fact(r#""value":"2026-03-02T22:14:00-05:00","at":"2026-03-02T23:00:00-05:00""#);
    assert!(wait_verdict(requirement, &primed, &pressed, 0).passes());
    let bad = fact(r#""at":"2026-03-02T22:14:00-05:00","ok":false"#);
    assert_eq!(word(&wait_verdict(requirement, &primed, &bad, 0)), "fails");
    let timeless = fact(r#""ok":true"#);
    assert_eq!(word(&wait_verdict(requirement, &primed, &timeless, 0)), "unreadable");
    let not_a_wait = standard.check("hole-diameter").unwrap();
    assert_eq!(word(&wait_verdict(not_a_wait, &primed, &pressed, 0)), "unreadable");
}

#[test]
fn what_makes_good_a_value_outside_is_data() {
    let standard = Standard::built_in();
    let made_good = |name: &str| {
        let list = standard.check(name).unwrap().made_good_by();
        list.iter().map(|m| m.check().to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(made_good("post-distance"), ["post-covered"]);
    assert_eq!(made_good("placement-rear"), ["lock-rods-would-strike"]);
    assert!(made_good("placement-top").is_empty());
    assert!(standard.check("placement-top").unwrap().asks_when_outside());
    assert!(!standard.check("hole-diameter").unwrap().asks_when_outside());
}
