//! Pictures in the inbox of a real daemon: kept with the facts that name them, whichever comes first.

use std::time::{Duration, Instant};

use gladhand_tests::process::{TempHome, names, until};

#[test]
fn pictures_are_kept_with_the_facts_that_name_them() {
    let home = TempHome::laptop();
    let daemon = home.serve();
    let proof = |job: &str, picture: &str| {
        format!(
            "{{\"kind\":\"proof\",\"job\":\"{job}\",\"state\":\"taken\",\"picture\":\"{picture}\",\"at\":\"2026-03-02T08:00:00Z\"}}\n"
        )
    };
    // The facts come first, as a slow copy of a folder brings them: they wait for their picture.
    home.drop_file(
        "day.jsonl",
        [proof("J1", "one.jpg"), proof("J2", "one.jpg")].concat().as_bytes(),
    );
    home.drop_file("one.jpg", b"the first picture");
    home.wait_done("day.jsonl");
    home.wait_done("one.jpg");
    // A picture that never comes is waited for a while, then the fact counts without it.
    let started = Instant::now();
    home.drop_file("late.jsonl", proof("J3", "never.jpg"));
    home.wait_done("late.jsonl");
    assert!(started.elapsed() > Duration::from_secs(5));
    let history = home.good(&["history", "--json"]).json();
    let kept: Vec<bool> = history["rows"]
        .as_array()
        .unwrap()
        .iter()
        .map(|line| {
            line["fact"]["picture_blake3"]
                .as_str()
                .is_some_and(|hash| hash.starts_with("blake3:"))
        })
        .collect();
    assert_eq!(kept, [true, true, false]);
    let verified = home.good(&["--json", "verify"]).json();
    assert_eq!(verified["pictures"], 1);
    daemon.stop();
    assert!(home.log().contains("never.jpg") && names(&home.inbox()) == ["done", "rejected"]);
}

#[test]
fn a_picture_that_comes_after_its_facts_comes_in_with_a_fact_of_its_own() {
    let home = TempHome::laptop();
    let proof =
        r#"{"kind":"proof","job":"J1","state":"judged","ok":true,"picture":"late.jpg","at":"2026-03-02T08:00:00Z"}"#;
    // Recorded by hand where the picture is not: the fact counts without it.
    home.feed(&["record", "-"], proof).done();
    let daemon = home.serve();
    home.drop_file("late.jpg", b"a late picture");
    home.drop_file("other.jpg", b"nobody's picture");
    home.wait_done("late.jpg");
    let history = home.good(&["history", "--json"]).json();
    let facts: Vec<_> = history["rows"]
        .as_array()
        .unwrap()
        .iter()
        .map(|line| &line["fact"])
        .collect();
    assert_eq!(facts.len(), 2, "{history}");
    assert_eq!(facts[0]["picture"], "late.jpg");
    assert!(
        facts[1]["picture"].as_str().unwrap().starts_with("blake3:"),
        "{history}"
    );
    assert_eq!(
        (&facts[1]["state"], &facts[1]["at"], &facts[1]["note"]),
        (
            &"judged".into(),
            &facts[0]["at"],
            &"the picture came after the fact".into()
        )
    );
    // Once is enough, and what nobody named stays.
    home.drop_file("late.jpg", b"a late picture");
    until("it is done again", || home.inbox().join("late.jpg").exists().eq(&false));
    assert!(home.inbox().join("other.jpg").exists());
    let again = home.good(&["history", "--json"]).json();
    assert_eq!(again["rows"].as_array().unwrap().len(), 2);
    daemon.stop();
}

#[test]
fn a_kept_picture_that_a_kill_left_behind_moves_at_the_next_start() {
    let home = TempHome::laptop();
    std::fs::write(home.inbox().join("one.jpg"), b"a picture").unwrap();
    let proof = r#"{"kind":"proof","job":"J1","state":"taken","picture":"one.jpg"}"#;
    std::fs::write(home.inbox().join("day.jsonl"), proof).unwrap();
    // As the daemon would have done it up to the kill: recorded and kept, facts moved, picture not.
    home.good(&["record", home.inbox().join("day.jsonl").to_str().unwrap()]);
    std::fs::rename(home.inbox().join("day.jsonl"), home.inbox().join("done/day.jsonl")).unwrap();
    let daemon = home.serve();
    home.wait_done("one.jpg");
    daemon.stop();
}
