//! What a daemon's log says of a day with a peer: times and sentences, names instead of keys.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod serve_common;

use serve_common::{Daemon, Home, binary, note_line, text, until};

fn depot() -> Home {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("depot");
    let mut setup = binary();
    setup.arg("--home").arg(&path);
    setup.args(["setup", "--depot", "--name", "harrow-street", "--listen", "127.0.0.1:0"]);
    assert!(setup.output().unwrap().status.success());
    let config = path.join("config.toml");
    let quiet = std::fs::read_to_string(&config)
        .unwrap()
        .replace("discover = true", "discover = false");
    std::fs::write(config, quiet).unwrap();
    Home { path, _dir: Some(dir) }
}

/// `2026-03-02 14:15`, and what is said then.
fn sentence(line: &str) -> &str {
    let (time, said) = line.split_at(17);
    let digits: String = time.chars().map(|c| if c.is_ascii_digit() { '0' } else { c }).collect();
    assert_eq!(digits, "0000-00-00 00:00 ", "{line}");
    said
}

#[test]
fn a_visit_is_told_in_sentences_and_as_fields() {
    let depot = depot();
    let depot_daemon = Daemon::start(&mut depot.command(&["--json", "serve"]));
    let invite = depot.run(&["invite"]);
    assert!(invite.status.success(), "{}", text(&invite.stderr));
    let laptop = Home::new();
    let joined = laptop.run_with(&["join", "-"], &invite.stdout);
    assert!(joined.status.success(), "{}", text(&joined.stderr));
    let laptop_daemon = Daemon::start(&mut laptop.command(&["serve", "--log", "json"]));
    until("they have met", || {
        depot.log().contains("mara came, ") && laptop.log().contains("reached harrow-street")
    });
    laptop.drop_file("day.jsonl", note_line("fitted").as_bytes());
    until("the depot knows", || depot.notes() == ["fitted"]);
    laptop_daemon.stop();
    until("it is missed", || {
        depot.log().contains("mara left, 1 entry since it came")
    });
    depot_daemon.stop();

    let (told, key) = (depot.log(), text(&laptop.run(&["status", "--json"]).stdout));
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
