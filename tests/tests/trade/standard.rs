//! The work standard: shown as a file, looked through, published by the depot, in force where it was merged.

use std::path::PathBuf;

use gladhand_tests::Home;
use serde_json::json;

use crate::yard::{AtWork, Yard, without_home};

const WIDE: (&str, &str) = ("tolerance = \"1/16 in\"", "tolerance = \"1/2 in\"");
const NAMED: (&str, &str) = ("version = \"Gladhand example 3\"", "version = \"Larkspur 2026-03\"");

/// The standard of a home, changed, in a file.
fn changed(yard: &Yard, home: &Home, name: &str, changes: &[(&str, &str)]) -> PathBuf {
    let mut text = home.good("standard show").out;
    for (from, to) in changes {
        assert_eq!(text.matches(from).count(), 1, "{from}");
        text = text.replace(from, to);
    }
    let file = yard.file(name);
    std::fs::write(&file, text).unwrap();
    file
}

#[test]
fn what_is_shown_is_the_file_itself() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    let shown = mara.good("standard show");
    assert_eq!(shown.out, include_str!("../../../config/work-standard.toml"));
    assert!(shown.tells("work standard Gladhand example 3"), "{}", shown.err);
    let object = mara.json("standard show");
    assert_eq!(
        (&object["standard"], &object["checks"][0]["name"]),
        (&json!("Gladhand example 3"), &json!("tracker-reporting"))
    );
    assert_eq!(object["proof_answers"].as_array().unwrap().len(), 4);
}

#[test]
fn a_file_is_looked_through_without_a_home_and_every_mistake_has_its_line() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    let good = changed(&yard, &mara, "good.toml", &[NAMED]);
    let ran = without_home(&["standard", "check", good.to_str().unwrap()]);
    assert!(
        ran.code == Some(0) && ran.reads("good. Work standard Larkspur 2026-03:"),
        "{} {}",
        ran.out,
        ran.err
    );

    let text = std::fs::read_to_string(&good).unwrap();
    let line_of = |words: &str| text.lines().position(|l| l.contains(words)).unwrap() + 1;
    let cases = [
        (WIDE.0, "tolerence = \"1/16 in\"", "did you mean `tolerance`?"),
        ("drift-ppm = 100", "drift-ppm = -1", "write a whole number"),
        ("exactly = 8", "exactly = 8 8", "this is not TOML"),
        (
            "inner-cut-over = \"3/4 in\"",
            "inner-cut-over = \"3/4 min\"",
            "write a length in quotes",
        ),
    ];
    for (i, (from, to, advice)) in cases.iter().enumerate() {
        let line = line_of(from);
        let bad = changed(&yard, &mara, &format!("bad{i}.toml"), &[(from, to)]);
        let bad = bad.to_str().unwrap();
        let ran = without_home(&["standard", "check", bad]);
        assert_eq!(ran.code, Some(2), "{to}: {}", ran.err);
        assert!(
            ran.tells(&format!("{bad}: line {line}: ")) && ran.tells(advice),
            "{to}: {}",
            ran.err
        );
    }
    let missing = without_home(&["standard", "check", "no-such.toml"]);
    assert!(
        missing.code == Some(2) && missing.tells("cannot read no-such.toml"),
        "{}",
        missing.err
    );
}

#[test]
fn a_laptop_publishes_nothing_and_two_texts_never_share_a_version() {
    let yard = Yard::new();
    let (depot, mara) = (yard.depot(), yard.laptop("lap-mara", "mara"));
    let wide = changed(&yard, &mara, "wide.toml", &[WIDE, NAMED]);
    let wide = wide.to_str().unwrap();
    let refused = mara.run(&["standard", "publish", wide]);
    assert!(
        refused.code == Some(2) && refused.tells("only a depot publishes"),
        "{}",
        refused.err
    );

    let same = changed(&yard, &mara, "same.toml", &[WIDE]);
    let clash = depot.run(&["standard", "publish", same.to_str().unwrap()]);
    assert!(
        clash.code == Some(2) && clash.tells("another work standard of the version"),
        "{}",
        clash.err
    );

    assert!(
        depot
            .good(&["standard", "publish", wide])
            .reads("published work standard Larkspur 2026-03")
    );
    let entries = depot.json("status")["entries"].clone();
    assert!(depot.good(&["standard", "publish", wide]).reads("in force already"));
    assert_eq!(depot.json("status")["entries"], entries, "nothing was written");
    let narrow = changed(&yard, &mara, "narrow.toml", &[NAMED]);
    let clash = depot.run(&["standard", "publish", narrow.to_str().unwrap()]);
    assert!(
        clash.code == Some(2) && clash.tells("another work standard of the version"),
        "{}",
        clash.err
    );
}

#[test]
fn a_published_standard_judges_wherever_it_was_merged() {
    let yard = Yard::new();
    let (depot, mara) = (yard.depot(), yard.laptop("lap-mara", "mara"));
    yard.enrol(&depot, &mara);
    mara.good("job M01 --trailer 5312 --wall plate --load empty");
    mara.good("check M01 hole-diameter 2 in");
    mara.good("sign-off M01");
    assert!(mara.open_findings().contains(&"check-failed M01".to_owned()));
    yard.carry(&mara, &depot);

    let wide = changed(&yard, &depot, "wide.toml", &[WIDE, NAMED]);
    depot.good(&["standard", "publish", wide.to_str().unwrap()]);
    assert!(
        !depot.open_findings().contains(&"check-failed M01".to_owned()),
        "also what was recorded before"
    );
    assert!(
        mara.open_findings().contains(&"check-failed M01".to_owned()),
        "she has not met it yet"
    );
    assert_eq!(mara.json("report")["standard"], json!("Gladhand example 3"));

    yard.carry(&depot, &mara);
    assert_eq!(mara.json("report")["standard"], json!("Larkspur 2026-03"));
    assert_eq!(mara.json("findings"), depot.json("findings"));
    let shown = mara.good("standard show");
    assert_eq!(shown.out, std::fs::read_to_string(&wide).unwrap());
    assert!(shown.tells("published by harrow-street"), "{}", shown.err);
    let told = mara.good("check M01 hole-diameter 2 in");
    assert!(!told.tells("the work standard wants"), "{}", told.err);
}
