//! What a daemon's log says of a day with a peer: times and sentences, names instead of keys.

use gladhand_tests::process::{Daemon, TempHome, until};

/// `2026-03-02 14:15`, and what is said then.
fn sentence(line: &str) -> &str {
    let (time, said) = line.split_at(17);
    let digits: String = time.chars().map(|c| if c.is_ascii_digit() { '0' } else { c }).collect();
    assert_eq!(digits, "0000-00-00 00:00 ", "{line}");
    said
}

#[test]
fn a_visit_is_told_in_sentences_and_as_fields() {
    let depot = TempHome::depot("127.0.0.1:0");
    let depot_daemon = Daemon::start(&mut depot.command(&["--json", "serve"]));
    let invite = depot.good(&["invite"]);
    let laptop = TempHome::laptop();
    laptop.feed(&["join", "-"], &invite.out).done();
    let laptop_daemon = Daemon::start(&mut laptop.command(&["serve", "--log", "json"]));
    until("they have met", || {
        depot.log().contains("mara came, ") && laptop.log().contains("reached harrow-street")
    });
    laptop.drop_file("day.jsonl", "{\"kind\":\"note\",\"text\":\"fitted\"}\n");
    until("the depot knows", || depot.notes() == ["fitted"]);
    laptop_daemon.stop();
    until("it is missed", || {
        depot.log().contains("mara left, 1 entry since it came")
    });
    depot_daemon.stop();

    let (told, key) = (depot.log(), laptop.good(&["status", "--json"]).out);
    let status: serde_json::Value = serde_json::from_str(&key).unwrap();
    let key = status["device"].as_str().unwrap();
    for line in told.lines() {
        let said = sentence(line);
        assert!(
            !said.contains(&key[..8]) && !said.contains('=') && !said.contains("INFO"),
            "{line}"
        );
    }
    let said = |words: &str| told.lines().any(|line| sentence(line).starts_with(words));
    assert!(
        said("serving harrow-street in ") && said("listening for peers at ") && said("mara came, "),
        "{told}"
    );

    let lines: Vec<serde_json::Value> = laptop
        .log()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    let reached = lines
        .iter()
        .find(|line| line["message"].as_str().unwrap().starts_with("reached"))
        .unwrap();
    assert!(
        reached["name"] == "harrow-street" && reached["entries_in"].is_u64(),
        "{reached}"
    );
    let file = lines.iter().find(|line| line["file"] == "day.jsonl").unwrap();
    assert_eq!(file["message"], "inbox: day.jsonl: 1 fact recorded, 0 recorded before");
    assert_eq!((&file["recorded"], &file["already"]), (&1.into(), &0.into()));
}
