//! Bad lines, bad files and wrong usage: a clear message with file and line or place, the right exit code, nothing lost, the good part
//! kept.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::collections::BTreeMap;
use std::io::{BufRead, Write};
use std::path::PathBuf;

use gladhand_tests::Home;
use gladhand_tests::facts::{fitting, line, notes};
use serde_json::json;

struct Alone {
    dir: tempfile::TempDir,
    home: Home,
}

/// A laptop that has joined nobody.
fn alone() -> Alone {
    let dir = tempfile::tempdir().unwrap();
    let home = Home::laptop(dir.path().join("home"), "laptop-mara", "mara");
    Alone { dir, home }
}

impl Alone {
    fn file(&self, name: &str, bytes: impl AsRef<[u8]>) -> String {
        let path = self.dir.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        path.to_str().unwrap().to_owned()
    }
}

// ---- Lines ----

#[test]
fn bad_lines_are_named_and_the_good_ones_count() {
    let alone = alone();
    let lines: [(&[u8], &str); 16] = [
        (br#"{"kind":"note","text":"one"}"#, ""),
        (b"{\"kind\":\"note\",\"text\":\"\xff\"}", "not UTF-8 at byte 24"),
        (b"{broken", "not JSON"),
        (
            br#"{"kind":"check","job":"J","check":"placement-top","value":1,"unit":"cubit"}"#,
            "unknown unit 'cubit'",
        ),
        (
            br#"{"kind":"note","text":"x","at":"2026-03-02T10:00:00"}"#,
            "no offset from UTC",
        ),
        (
            br#"{"kind":"note","text":"x","at":"yesterdayish"}"#,
            "not an RFC 3339 time",
        ),
        (br#"["kind","note"]"#, "not a JSON object"),
        (br#"{"kind":"note"}"#, "a note needs `text`"),
        (
            br#"{"kind":"link","camera":"LC-1","camera":"LC-2","tracker":"LT-1"}"#,
            "`camera` appears twice",
        ),
        (br#"{"kind":"job","job":" ","trailer":"5301"}"#, "the name of a job"),
        (br#"{"kind":"link","camera":"LC-LT91Z9J"}"#, "a link needs `tracker`"),
        (br#"{"text":"no kind"}"#, "kind"),
        (
            br#"{"kind":"settings","tracker":"LT500411541","state":"perhaps"}"#,
            "state",
        ),
        (br#"{"kind":"weather","sky":"grey"}"#, ""),
        (b"", ""),
        (br#"{"kind":"note","text":"two"}"#, ""),
    ];
    let text: Vec<u8> = lines.iter().map(|(line, _)| *line).collect::<Vec<_>>().join(&b'\n');
    let file = alone.file("shift.jsonl", text);
    let ran = alone.home.run(&["record", "--json", &file]).exits(4);
    assert_eq!(ran.json_lines().len(), 3, "{ran}");
    for (number, (line, reason)) in (1..).zip(lines) {
        if reason.is_empty() {
            assert!(
                !ran.err.contains(&format!("shift.jsonl:{number}:")),
                "line {number} of {ran}"
            );
            continue;
        }
        let said = ran
            .err
            .lines()
            .find(|said| said.contains(&format!("shift.jsonl:{number}: rejected")));
        let said = said.unwrap_or_else(|| panic!("line {number} is not named by {ran}"));
        assert!(said.contains(reason), "'{reason}' is missing from: {said}");
        let shown = String::from_utf8_lossy(line).into_owned();
        assert!(ran.err.contains(&shown), "the line itself is missing: {shown}");
    }
    ran.says(&["3 facts recorded, 12 lines rejected"]);
    // The kind that nobody knows is kept, and reported.
    let found = alone
        .home
        .run(&["findings", "--json", "--rule", "not-understood"])
        .done()
        .json();
    assert_eq!(found["findings"].as_array().unwrap().len(), 1);
    // The same file again adds nothing and rejects the same.
    let again = alone.home.run(&["record", "--json", &file]).exits(4);
    assert!(
        again.json_lines().iter().all(|receipt| receipt["receipt"] == "already"),
        "{again}"
    );
    assert_eq!(alone.home.fact_ids().len(), 3);
}

#[test]
fn bad_rows_of_a_table_are_named_and_the_good_ones_count() {
    let alone = alone();
    let rows = b"kind,job,check,value,unit,ok\n\
        check,0302-B1,placement-top,1 3/4,in,\n\
        check,0302-B1,placement-top\n\
        check,0302-B1,placement-rear,a hand,in,\n\
        check,0302-B1,kit-complete,\xff,,yes\n\
        check,0302-B1,kit-complete,,,yes\n";
    let file = alone.file("shift.csv", rows);
    let ran = alone.home.run(&["record", "--json", &file]).exits(4);
    assert_eq!(ran.json_lines().len(), 2, "{ran}");
    ran.says(&["shift.csv:3: rejected", "3 cells, the header has 6"])
        .says(&["shift.csv:4: rejected", "a hand"])
        .says(&["shift.csv:5: rejected", "not UTF-8 in column `value`"]);
    let twice = alone.file("twice.csv", "kind,text,text\nnote,a,b\n");
    alone
        .home
        .run(&["record", &twice])
        .exits(4)
        .says(&["twice.csv:2", "stands twice in the header"]);
}

#[test]
fn a_line_of_fifty_megabytes_is_rejected_and_the_next_one_counts() {
    let alone = alone();
    let mut bytes = br#"{"kind":"note","text":""#.to_vec();
    bytes.resize(50 << 20, b'x');
    bytes.extend_from_slice(b"\"}\n{\"kind\":\"note\",\"text\":\"after\"}\n");
    let file = alone.file("giant.jsonl", bytes);
    let ran = alone.home.run(&["record", "--json", &file]).exits(4);
    assert_eq!(ran.json_lines().len(), 1, "{ran}");
    assert!(
        ran.err.len() < 2_000,
        "a giant line must not be shown whole: {} bytes",
        ran.err.len()
    );
    ran.says(&["giant.jsonl:1: rejected", "52428803 bytes", "at most 1048576"]);
}

#[test]
fn files_that_are_not_there_or_hold_nothing() {
    let alone = alone();
    let good = alone.file("good.jsonl", notes(2, "note", false).join("\n"));
    // Nothing is recorded of the good file, because the second name is wrong.
    let gone = alone.dir.path().join("gone.jsonl");
    let ran = alone.home.run(&["record", &good, gone.to_str().unwrap()]).exits(2);
    ran.says(&["gone.jsonl", "No such file", "Nothing was recorded"]);
    alone
        .home
        .run(&["record", &good, alone.dir.path().to_str().unwrap()])
        .exits(2)
        .says(&["irectory"]);
    assert_eq!(alone.home.fact_ids().len(), 0);
    let empty = alone.file("empty.jsonl", "");
    alone.home.run(&["record", &empty]).done().says(&["0 facts recorded"]);
    alone.home.feed(&["record"], "").done().says(&["0 facts recorded"]);
    let garbage = alone.file("garbage.bin", [0u8, 159, 146, 150, 10, 255, 254, 0]);
    alone
        .home
        .run(&["record", &garbage])
        .exits(4)
        .says(&["garbage.bin:1: rejected", "garbage.bin:2: rejected"]);
    let missing = line(
        "proof",
        json!({"job": "0302-B1", "state": "taken", "picture": "nowhere.png"}),
    );
    alone
        .home
        .feed(&["record", "-"], missing)
        .done()
        .says(&["nowhere.png", "recorded without it"]);
    let outside = line(
        "proof",
        json!({"job": "0302-B1", "state": "taken", "picture": "../../etc/passwd"}),
    );
    alone
        .home
        .feed(&["record", "-"], outside)
        .done()
        .says(&["only a file beside the facts"]);
}

// ---- The command line ----

#[test]
fn wrong_usage_is_refused_with_code_2() {
    let alone = alone();
    alone
        .home
        .record(&fitting("0302-B1", "LF 5301", "LC-LT91Z9J", "LT500411541"));
    let before = alone.home.vector();
    let cases: [(&[&str], &str); 20] = [
        (&["record", "--bogus"], "--bogus"),
        (&["frobnicate"], "frobnicate"),
        (&[], "a command is missing"),
        (&["setup", "--name", "again"], "exists already"),
        (&["setup", "--name", ""], "--name"),
        (&["history", "--job", "0302-NOPE"], "no job '0302-NOPE' is known here"),
        (&["clearance", "0302-NOPE"], "0302-NOPE"),
        (&["history", "--device", "nobody"], "no device 'nobody' is known here"),
        (
            &["history", "--as-known-by", "laptop-mara@x"],
            "'x' is not an entry number",
        ),
        (
            &["history", "--as-of", "noon"],
            "--as-of: 'noon' is not an RFC 3339 time",
        ),
        (&["report", "--from", "yesterdayish"], "--from: 'yesterdayish'"),
        (&["report", "--format", "xml"], "xml"),
        (&["findings", "--rule", "nonsense"], "no rule is called 'nonsense'"),
        (
            &["ruling", "f-nope", "--ruling", "accepted", "--why", "w"],
            "no finding 'f-nope'",
        ),
        (&["check", "0302-B1", "placement-top", "3 cubits"], "cubits"),
        (&["check", "0302-B1", "placement-top", "--at", "noon"], "noon"),
        (&["settings", "LT500411541", "perhaps"], "perhaps"),
        (
            &["bundle", "write", "x.bundle", "--for", "nobody"],
            "no device 'nobody'",
        ),
        (&["bundle", "write", "x.bundle", "--since", "then"], "--since: 'then'"),
        (&["invite"], "only a depot can invite"),
    ];
    for (args, word) in cases {
        let ran = alone.home.run(args).exits(2);
        assert!(ran.out.is_empty(), "data on stdout of {ran}");
        ran.says(&[word]);
    }
    assert_eq!(alone.home.vector(), before, "nothing was recorded by any of them");
    let nowhere = Home::at(alone.dir.path().join("nowhere"));
    for args in [&["status"][..], &["findings"], &["record", "-"]] {
        nowhere
            .run(args)
            .exits(2)
            .says(&["there is no home at", "gladhand setup"]);
    }
    assert!(!nowhere.path.exists(), "asking must not make a home");
    let full = Home::at(alone.dir.path());
    full.run(&["setup", "--name", "x"]).exits(2).says(&["not empty"]);
}

#[test]
fn a_home_of_a_newer_version_is_left_alone() {
    let alone = alone();
    alone.home.record(&notes(3, "note", false));
    let newer = alone.home.copied(alone.dir.path().join("newer"));
    std::fs::write(newer.file("format"), "gladhand-home 7\n").unwrap();
    let before = tree(&newer);
    for args in [&["status"][..], &["record", "-"], &["verify"], &["findings", "--json"]] {
        newer
            .run(args)
            .exits(1)
            .says(&["format 7", "formats up to 1", "Nothing was changed"]);
    }
    assert_eq!(tree(&newer), before);
}

/// Every file with its bytes.
fn tree(home: &Home) -> BTreeMap<PathBuf, Vec<u8>> {
    let files = gladhand_tests::files_below(&home.path).into_iter();
    files
        .map(|file| (file.clone(), std::fs::read(home.file(&file)).unwrap()))
        .collect()
}

#[test]
fn a_second_process_waits_a_moment_and_then_says_who_is_in_the_way() {
    let alone = alone();
    let mut first = alone.home.start(&["record", "--json", "-"]);
    let mut feed = first.stdin();
    writeln!(feed, "{}", notes(1, "first", false)[0]).unwrap();
    // Its receipt says that it has the home open.
    let mut receipt = String::new();
    let mut out = first.stdout();
    out.read_line(&mut receipt).unwrap();
    assert!(receipt.contains("recorded"), "{receipt}");
    let number = first.id().to_string();
    let ran = alone
        .home
        .feed(&["record", "-"], notes(1, "second", false).join("\n"))
        .exits(1);
    ran.says(&["in use by another process", &number, "nothing was changed"]);
    drop(feed);
    assert!(first.wait().success());
    assert_eq!(alone.home.fact_ids().len(), 1);
}

#[test]
fn commands_at_the_same_time_take_turns() {
    let alone = alone();
    std::thread::scope(|scope| {
        for n in 0..4 {
            let home = &alone.home;
            scope.spawn(move || home.record(&notes(5, &format!("hand {n}"), false)));
        }
    });
    assert_eq!(alone.home.fact_ids().len(), 20);
    alone.home.verifies();
}

// ---- What an outside tester found ----

#[test]
fn what_a_terminal_would_obey_is_shown_and_not_sent() {
    let alone = alone();
    let text = "red \u{1b}[31m and a bell \u{7}";
    let fact = json!({"kind": "note", "text": text}).to_string();
    let ran = alone.home.feed(&["record", "-"], format!("{fact}\n")).done();
    let history = alone.home.run(&["history"]).done();
    for text in [&ran.out, &history.out, &ran.err] {
        assert!(!text.contains(['\u{1b}', '\u{7}']), "{text}");
    }
    assert!(history.out.contains("red \\u{1b}[31m"));
    assert_eq!(alone.home.history(&[])[0]["fact"]["text"], json!(text));
}

#[test]
fn the_receipt_of_a_repeated_line_names_the_made_up_job_again() {
    let alone = alone();
    let line = format!("{}\n", json!({"kind": "job", "trailer": "5301"}));
    let job = |word: &str| {
        let ran = alone.home.feed(&["record", "--json", "-"], &line).done();
        let receipt: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
        assert_eq!(receipt["receipt"], json!(word));
        receipt["job"].as_str().unwrap().to_owned()
    };
    assert_eq!(job("recorded"), job("already"));
}

#[test]
fn commands_that_cannot_be_meant_say_why() {
    let alone = alone();
    let other = alone.dir.path().join("other");
    let other = Home::at(&other);
    for (home, args, words) in [
        (&alone.home, &["retire", "theo"][..], "only a depot can retire"),
        (&alone.home, &["join", "/no/such/file"], "No such file"),
        (
            &alone.home,
            &[
                "report",
                "--from",
                "2026-03-03T00:00:00Z",
                "--to",
                "2026-03-02T00:00:00Z",
            ],
            "--from is later than --to",
        ),
        (
            &other,
            &["setup", "--name", "x", "--listen", "rubbish"],
            "no address to listen at",
        ),
    ] {
        home.run(args).exits(2).says(&[words]);
    }
}

#[test]
fn whose_invite_was_used_by_somebody_else_joins_with_another() {
    let dir = tempfile::tempdir().unwrap();
    let depot = Home::depot(dir.path().join("depot"), "harrow-street", "dana");
    let laptop = |name: &str| Home::laptop(dir.path().join(name), name, name);
    let (mara, theo) = (laptop("mara"), laptop("theo"));
    let invite = || depot.run(&["invite"]).done().out;
    let (first, second) = (invite(), invite());
    for home in [&mara, &theo] {
        home.run(&["join", first.trim()]).done();
        home.record(&[line("note", json!({"text": "before the depot"}))]);
    }
    let bundle = |home: &Home, name: &str| {
        let file = dir.path().join(name);
        home.write_bundle(&file);
        depot.read_bundle(&file)
    };
    bundle(&mara, "mara.bundle").done();
    bundle(&theo, "theo.bundle").exits(6);
    theo.run(&["join", first.trim()]).exits(2).says(&["joined already"]);
    theo.run(&["join", second.trim()]).done();
    bundle(&theo, "again.bundle").done();
    assert_eq!(depot.history(&[]).len(), 2);
}
