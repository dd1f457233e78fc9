use super::*;
use crate::clearance::decide;
use crate::clearance::tests::word;
use gladhand_facts::DeviceKey;

fn fact(line: &str) -> Fact {
    Fact::from_line(&DeviceKey([7; 32]), line).unwrap_or_else(|e| panic!("{line}: {e}"))
}

/// A loaded plate trailer at Harrow Street, with exactly these further facts.
fn from_lines(lines: &[&str]) -> String {
    let facts: Vec<Fact> = lines
        .iter()
        .map(|l| fact(&format!(r#"{{"kind":"check","job":"j1",{l}}}"#)))
        .collect();
    let facts: Vec<&Fact> = facts.iter().collect();
    let situation = Situation::from_facts(Some("plate"), Some("loaded"), None, &facts);
    word(&decide(&Standard::built_in(), &situation))
}

#[test]
fn facts_are_read_as_people_write_them() {
    let (free, hole) = (
        r#""check":"freight-at-opening","value":"no""#,
        r#""check":"pilot-hole","ok":true"#,
    );
    let probe = |rest: &str| format!(r#""check":"first-probe",{rest}"#);
    let rows = [
        (r#""value":"free""#, "clear"),
        (r#""value":"Free","ok":true"#, "clear"),
        (r#""value":"free","ok":false"#, "not decidable"),
        (r#""ok":true"#, "not decidable"), // content, but how deep?
        (r#""value":"3/4 in""#, "clear"),
        (r#""value":0.75,"unit":"in""#, "clear"),
        (r#""value":"3/4 in","ok":false"#, "not decidable"),
        (r#""value":0.75"#, "not decidable"), // no unit: not a depth
        (r#""value":"3 min""#, "not decidable"),
        (r#""value":"-1 in""#, "not decidable"),
        (r#""value":"1/4 in""#, "blocked"),
        (r#""value":"1/4 in","ok":false"#, "blocked"),
        (r#""value":"17/32 in","uncertainty":"1/16 in""#, "not decidable"),
        (r#""value":"33/64 in","uncertainty":"1/128 in""#, "clear"),
        (r#""value":13.5,"unit":"mm","uncertainty":"1/32 in""#, "clear"),
        (r#""value":"17/32 in","uncertainty":"a hair""#, "not decidable"),
    ];
    for (rest, wanted) in rows {
        assert_eq!(from_lines(&[free, hole, &probe(rest)]), wanted, "{rest}");
    }
}

#[test]
fn freight_is_a_yes_or_a_no_and_the_latest_counts() {
    let hole = r#""check":"pilot-hole","ok":true"#;
    let freight = |rest: &str| format!(r#""check":"freight-at-opening",{rest}"#);
    let unknown = "unknown freight-at-opening";
    for rest in [
        r#""ok":true"#,
        r#""ok":false"#,
        r#""value":"pallets""#,
        r#""value":"no","ok":false"#,
        r#""value":"cannot-be-seen","ok":false"#,
    ] {
        assert_eq!(from_lines(&[&freight(rest), hole]), unknown, "{rest}");
    }
    for rest in [r#""value":false"#, r#""value":"No""#, r#""value":"cannot-be-seen""#] {
        assert_eq!(from_lines(&[&freight(rest), hole]), "next first-probe", "{rest}");
    }
    let free = r#""check":"first-probe","value":"free""#;
    for rest in [r#""value":"yes""#, r#""value":true"#, r#""value":"yes","ok":false"#] {
        assert_eq!(from_lines(&[&freight(rest), hole, free]), "blocked", "{rest}");
    }
    assert_eq!(
        from_lines(&[&freight(r#""value":"no""#), &freight(r#""ok":true"#), hole]),
        unknown
    );
}

#[test]
fn an_approval_changes_nothing_and_a_spoiled_pilot_decides_nothing() {
    let free = r#""check":"freight-at-opening","value":"no""#;
    let touch = r#""check":"first-probe","value":"1/2 in""#;
    assert_eq!(
        from_lines(&[free, touch, r#""check":"approval","ok":true"#]),
        "not decidable"
    );
    assert_eq!(
        from_lines(&[free, r#""check":"pilot-hole","ok":false"#]),
        "not decidable"
    );
}

#[test]
fn a_hole_is_sealed_only_where_somebody_says_so() {
    let hole = fact(r#"{"kind":"check","job":"j1","check":"pilot-hole"}"#);
    let open_after = |rest: &str| {
        let sealed = fact(&format!(
            r#"{{"kind":"check","job":"j1","check":"pilot-sealed"{rest}}}"#
        ));
        Situation::from_facts(None, None, None, &[&hole, &sealed]).has_open_pilot(&Standard::built_in())
    };
    assert!(open_after("") && open_after(r#","ok":false"#) && open_after(r#","ok":true,"value":"no""#));
    assert!(!open_after(r#","ok":true"#) && !open_after(r#","value":"yes""#));
}
