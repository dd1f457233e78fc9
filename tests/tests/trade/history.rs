//! What `history` tells: of a job that one laptop began and another finished, of fields that two people wrote, of clocks, of what
//! was known when; as text, as JSON, as a picture.

use std::sync::Arc;

use gladhand_facts::{Fact, Moment};
use gladhand_logbook::roster::ClockReading;
use gladhand_node::config::{Config, Role};
use gladhand_node::{Environment, HistoryQuery, Node, Silent};
use gladhand_reconcile::timeline::Basis;
use gladhand_tests::Home;
use serde_json::Value;

use crate::yard::{AtWork, Yard};

/// Depot and two laptops that know of each other.
fn yard() -> (Yard, Home, Home, Home) {
    let yard = Yard::new();
    let (depot, mara, tomas) = (
        yard.depot(),
        yard.laptop("lap-mara", "mara"),
        yard.laptop("lap-tomas", "tomas"),
    );
    yard.enrol(&depot, &mara);
    yard.enrol(&depot, &tomas);
    yard.carry(&depot, &mara);
    (yard, depot, mara, tomas)
}

/// What became of the field of the fact in which `by` wrote it.
fn edit(history: &Value, by: &str, field: &str) -> Value {
    let lines = history["rows"].as_array().unwrap();
    let wrote = |l: &&Value| l["by"] == by && !l["fields"][field].is_null();
    lines.iter().find(wrote).unwrap()["fields"][field].clone()
}

/// Mara begins and hands over; both measure the wall, neither awareness; tomas finishes; the depot, who has seen both, settles it.
/// A line may name a job that nobody has opened yet.
#[track_caller]
fn line(home: &Home, line: &str) {
    home.feed("record", line).done();
}

#[test]
fn a_job_is_handed_over_and_a_field_is_written_by_two() {
    let (yard, depot, mara, tomas) = yard();
    mara.good(&["job", "M02", "--trailer", "LF 5302", "--wall", "plate"]);
    mara.good("check M02 kit-complete --ok");
    yard.carry(&mara, &tomas);
    mara.good(&["job", "M02", "--thickness", "3/4 in"]);
    tomas.good(&["job", "M02", "--thickness", "5/8 in"]);
    tomas.good("sign-off M02");
    yard.carry(&mara, &depot);
    yard.carry(&tomas, &depot);

    let told = depot.good("history --job M02");
    assert!(told.reads("1, 2 by lap-mara: lap-tomas from its entry"), "{}", told.out);
    assert!(told.reads("Field thickness of job M02: row 3 3/4 in mara on lap-mara neither this nor row 4 knew of the other; open until somebody who has seen both writes it again"), "{}", told.out);
    assert!(told.reads("job M02 3/4 in ‖ 4, 5"), "{}", told.out);
    assert!(told.reads("lap-mara and lap-tomas were never measured against the depot's clock: their times may be off by 24 h either way."), "{}", told.out);
    let json = depot.json("history --job M02");
    let (ours, theirs) = (edit(&json, "mara", "thickness"), edit(&json, "tomas", "thickness"));
    assert_eq!(
        (&ours["standing"], &theirs["standing"]),
        (&"disputed".into(), &"disputed".into())
    );
    assert_eq!(ours["against"][0]["value"], "5/8 in");
    assert_eq!(theirs["against"][0]["by"], "mara");
    assert!(depot.open_findings().contains(&"fields-disagree M02".to_owned()));

    depot.good(&["job", "M02", "--thickness", "19 mm"]);
    let json = depot.json("history --job M02");
    let (ours, last) = (
        edit(&json, "mara", "thickness"),
        json["rows"].as_array().unwrap().last().unwrap()["fields"]["thickness"].clone(),
    );
    assert_eq!(ours["standing"], "replaced");
    assert_eq!(ours["followed_by"][0]["value"], "19 mm");
    assert_eq!(last["standing"], "holds");
    let told = depot.good("history --job M02");
    assert!(told.reads("had seen row 3, 4; this is the value now"), "{}", told.out);
    assert!(!depot.open_findings().contains(&"fields-disagree M02".to_owned()));
}

#[test]
fn what_a_laptop_knew_comes_with_the_findings_that_it_would_have_shown() {
    let (yard, depot, mara, tomas) = yard();
    line(&mara, r#"{"kind":"link","job":"M1","camera":"LC-1","tracker":"LT-1"}"#);
    line(&tomas, r#"{"kind":"link","job":"T1","camera":"LC-1","tracker":"LT-2"}"#);
    yard.carry(&mara, &tomas);
    let alone = tomas.json("findings");
    tomas.good("note after-the-meeting");
    let (after, history) = (
        tomas.good("findings --json").out,
        tomas.good("history --json --camera LC-1").out,
    );
    yard.carry(&mara, &depot);
    yard.carry(&tomas, &depot);

    let entries = depot.json("history --device lap-tomas");
    let seq = |i: usize| entries["rows"][i]["place"]["seq"].as_u64().unwrap();
    let ask = |what: &str, i: usize| depot.good(&format!("{what} --as-known-by lap-tomas@{}", seq(i)));
    assert_eq!(found(&ask("findings --json", 0).out), serde_json::json!([]));
    assert_ne!(
        alone["findings"].as_array().unwrap().len(),
        0,
        "he would have seen it at once, had he looked"
    );
    assert_eq!(found(&ask("findings --json", 1).out), found(&after));
    assert_eq!(facts(&ask("history --json --camera LC-1", 1).out), facts(&history));
    let told = ask("history --camera LC-1", 1);
    assert!(told.reads("Findings that it would have shown: stop"), "{}", told.out);
    assert!(told.tells("As lap-tomas knew it right after its entry"), "{}", told.err);
    let told = depot.good("history --camera LC-1 --as-known-by lap-mara");
    assert!(told.tells("the newest that is here"), "{}", told.err);
    assert_eq!(mara.good("history --camera LC-1 --as-known-by lap-mara").out, told.out);
    assert!(!told.out.contains("LT-2"), "{}", told.out);
}

/// The findings of an answer.
fn found(json: &str) -> Value {
    let mut answer: Value = serde_json::from_str(json).unwrap();
    answer["findings"].take()
}

/// The facts without the findings that they are said to make.
fn facts(json: &str) -> Value {
    let mut answer: Value = serde_json::from_str(json).unwrap();
    let mut lines = answer["rows"].take();
    for line in lines.as_array_mut().unwrap() {
        line.as_object_mut().unwrap().remove("findings");
    }
    lines
}

#[test]
fn who_or_what_is_not_there_is_said_clearly() {
    let (_yard, depot, mara, _) = yard();
    for (args, says) in [
        (
            "history --as-known-by lap-nobody",
            "no device 'lap-nobody' is known here",
        ),
        ("history --as-known-by lap-mara@0", "lap-mara has no entry 0 here"),
        ("history --as-known-by lap-mara@99", "Its entries 1 to 2 are here."),
        ("findings --as-known-by lap-mara@soon", "'soon' is not an entry number"),
        ("history --as-of lately", "is not an RFC 3339 time"),
        ("history --job M77", "no job 'M77' is known here"),
    ] {
        let ran = depot.run(&args.split(' ').collect::<Vec<_>>());
        assert_eq!((ran.code, ran.out.as_str()), (Some(2), ""), "{args}");
        assert!(ran.tells(says), "{args}: {}", ran.err);
    }
    let key = mara.json("status")["device"].as_str().unwrap().to_owned();
    let told = depot.good(&format!("history --as-known-by {}@2", &key[..8]));
    assert!(
        told.tells("As lap-mara knew it right after its entry 2"),
        "{}",
        told.err
    );
    assert!(
        depot
            .good("history --camera LC-none")
            .tells("nothing is known about that")
    );
}

#[test]
fn a_picture_is_drawn_and_stays_readable() {
    let (yard, depot, mara, tomas) = yard();
    line(&mara, r#"{"kind":"link","job":"M1","camera":"LC-1","tracker":"LT-1"}"#);
    line(&tomas, r#"{"kind":"link","job":"T1","camera":"LC-1","tracker":"LT-2"}"#);
    yard.carry(&mara, &depot);
    yard.carry(&tomas, &depot);
    let file = yard.file("dispute.svg");
    let name = file.to_str().unwrap();
    let told = depot.good(&["history", "--camera", "LC-1", "--picture", name]).out;
    assert_eq!(told, format!("{name}: 2 facts, 2 lanes, 0 meetings, 1 open finding\n"));
    let svg = std::fs::read_to_string(&file).unwrap();
    assert!(
        svg.starts_with("<svg ") && svg.contains("camera-on-two-trackers (stop, unaware)"),
        "{svg}"
    );
    let known = depot
        .good(&[
            "history",
            "--camera",
            "LC-1",
            "--as-known-by",
            "lap-mara",
            "--picture",
            name,
        ])
        .out;
    assert!(
        known.ends_with("1 fact, 1 lane, 0 meetings, 0 open findings\n"),
        "{known}"
    );
    let no_folder = yard.file("none/x.svg");
    let failed = depot.run(&["history", "--camera", "LC-1", "--picture", no_folder.to_str().unwrap()]);
    assert!(failed.code == Some(1) && failed.tells("cannot write"), "{failed:?}");
    let many: Vec<String> = (0..301).map(|i| format!(r#"{{"kind":"note","text":"{i}"}}"#)).collect();
    let lines = yard.file("many.jsonl");
    std::fs::write(&lines, many.join("\n")).unwrap();
    mara.good(&["record", lines.to_str().unwrap()]);
    let refused = mara.run(&["history", "--picture", name]);
    assert!(
        refused.code == Some(2) && refused.tells("could not be read (at most 300)"),
        "{refused:?}"
    );
}

#[test]
fn everything_that_a_fact_says_is_shown_on_one_line_and_commands_no_terminal() {
    let (yard, _, mara, _) = yard();
    let file = yard.file("odd.jsonl");
    let note = r#"{"kind":"note","text":"two\nlines \u001b[31m\u202ered","colour":"blue","weight":{"kg":3}}"#;
    let job = r#"{"kind":"job","job":"M9","trailer":"LF 1","yard":"Tolland","assigned":"mara"}"#;
    std::fs::write(&file, format!("{note}\n{job}")).unwrap();
    mara.good(&["record", file.to_str().unwrap()]);
    let told = mara.good("history").out;
    assert_eq!(
        told.lines().count(),
        5,
        "a head, two facts, and what is known of the clock: {told}"
    );
    let wanted = r#"note two\nlines \u{1b}[31m\u{202e}red (colour blue; weight {"kg":3})"#;
    assert!(told.contains(wanted), "{told}");
    assert!(told.contains("(assigned mara; yard Tolland)"), "{told}");
    let json = mara.json("history");
    assert_eq!(json["rows"][0]["fact"]["weight"]["kg"], 3);
}

/// 2026-03-02T12:00:00Z.
const NOON_US: i64 = 1_772_452_800_000_000;
const MINUTE_US: i64 = 60_000_000;

/// A node whose clock is `wrong_min` minutes ahead at noon.
fn node(dir: &std::path::Path, name: &str, role: Role, wrong_min: i64) -> Node {
    let outside = Environment {
        now_us: Arc::new(move || NOON_US + wrong_min * MINUTE_US),
        ..Environment::machine()
    };
    Node::create_with(&dir.join(name), &Config::new(name, role, name, ""), outside).unwrap()
}

/// Mara's clock is 95 minutes fast, and the depot has measured it: her 13:45 was 12:10.
#[test]
fn a_time_is_told_by_the_depots_clock_once_it_was_measured() {
    let dir = tempfile::tempdir().unwrap();
    let mut depot = node(dir.path(), "harrow-street", Role::Depot, 0);
    let mut mara = node(dir.path(), "lap-mara", Role::Laptop, 95);
    mara.join(&depot.invite("", 86_400).unwrap().to_line()).unwrap();
    let line = r#"{"kind":"note","text":"hole cut","job":"M1","at":"2026-03-02T13:30:00Z"}"#;
    let fact = Fact::from_line(&mara.device(), line).unwrap();
    mara.record(vec![fact]).unwrap();
    let file = dir.path().join("stick");
    mara.write_bundle(&file, &Default::default(), &Silent).unwrap();
    depot.read_bundle(&file, &Silent).unwrap();
    let until = |text: &str| HistoryQuery {
        until_us: Some(Moment::parse(text).unwrap().unix_us()),
        ..HistoryQuery::default()
    };
    let before = depot.history(&until("2026-03-01T20:00:00Z"), None).unwrap();
    assert_eq!(
        (before.lines.len(), before.perhaps_too),
        (0, 1),
        "nobody has measured it yet"
    );
    // The depot had seen it at noon, whatever its clock showed.
    let by_then = depot.history(&until("2026-03-02T12:00:00Z"), None).unwrap();
    assert_eq!((by_then.lines.len(), by_then.perhaps_too), (1, 0));
    depot
        .note_clock(&ClockReading {
            device: depot.device(),
            peer: mara.device(),
            offset_us: 95 * MINUTE_US,
            delay_us: 200_000,
            at_us: NOON_US,
        })
        .unwrap();
    let after = depot.history(&until("2026-03-02T11:56:00Z"), None).unwrap();
    let corrected = after.lines[0].corrected.clone().unwrap();
    assert_eq!(corrected.basis, Basis::Measured);
    let five_to_us = NOON_US - 5 * MINUTE_US;
    let inside = corrected.interval.from_us <= five_to_us && five_to_us <= corrected.interval.to_us;
    assert!(inside && corrected.interval.width_us() < 1_000_000, "{corrected:?}");
    let early = depot.history(&until("2026-03-02T11:54:00Z"), None).unwrap();
    assert_eq!((early.lines.len(), early.perhaps_too), (0, 0), "that is certain now");
}
