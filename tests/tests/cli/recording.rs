//! Recording from a command line: several checks at once, shortened names, withdrawals, and which job is meant.

use gladhand_tests::process::{Home, TempHome};
use serde_json::Value;

/// The receipts of a command, as JSON.
#[track_caller]
fn receipts(home: &Home, args: &[&str]) -> Vec<Value> {
    home.good(&[args, &["--json"]].concat()).json_lines()
}

fn id(receipt: &Value) -> String {
    receipt["fact"].as_str().unwrap().to_owned()
}

/// How many facts are known.
fn facts(home: &Home) -> usize {
    home.json("history")["rows"].as_array().unwrap().len()
}

/// It is refused with these words, and nothing is recorded.
#[track_caller]
fn refused(home: &Home, args: &[&str], words: &[&str]) {
    let before = facts(home);
    let ran = home.run(args).exits(2);
    for word in words {
        assert!(ran.tells(word), "'{word}' is missing: {ran}");
    }
    assert_eq!(facts(home), before, "nothing may be recorded: {ran}");
}

#[test]
fn several_checks_are_facts_of_their_own_or_none_is_recorded() {
    let home = TempHome::laptop();
    home.good(&["job", "--trailer", "LF 5396", "--wall", "plate", "--load", "empty"]);
    let three = receipts(
        &home,
        &["check", "LF5396", "hole-d", "1", "3/4", "in", "tape", "4", "lens", "ok"],
    );
    let says: Vec<&str> = three.iter().map(|r| r["says"].as_str().unwrap()).collect();
    let job = three[0]["job"].as_str().unwrap();
    assert!(job.starts_with("LF5396-") && job.len() == 11, "{job}");
    assert_eq!(
        says,
        [
            format!("check {job} hole-diameter 1 3/4 in"),
            format!("check {job} tape-pieces 4"),
            format!("check {job} lens-untouched ok"),
        ]
    );
    let two = receipts(&home, &["check", ".", "tracker", "kit", "--ok"]);
    assert_eq!(two.len(), 2);

    refused(
        &home,
        &["check", ".", "placement", "1", "in"],
        &["placement-top or placement-rear"],
    );
    refused(
        &home,
        &["check", ".", "tape", "4", "rivet-conut", "8"],
        &["Did you mean rivet-count?"],
    );
    refused(
        &home,
        &["check", ".", "tape", "4", "lens"],
        &["lens-untouched has no value"],
    );
    refused(
        &home,
        &["check", ".", "tape", "4", "rivet-count", "8", "--unit", "in"],
        &["--unit is for one check"],
    );
}

#[test]
fn all_yes_answers_what_the_work_standard_requires() {
    let home = TempHome::laptop();
    home.good(&["job", "J1", "--trailer", "LF 5396"]);
    let proof = receipts(&home, &["proof", ".", "judged", "--all-yes"]);
    let history = home.json(&["history", "--job", "J1"][..]);
    let rows = history["rows"].as_array().unwrap();
    let judged = rows.iter().find(|row| row["id"] == proof[0]["fact"]).unwrap();
    let answers = judged["fact"]["answers"].as_object().unwrap();
    assert_eq!(answers.len(), 4, "{judged}");
    assert!(answers.values().all(|answer| *answer == Value::Bool(true)));
    assert_eq!(judged["fact"]["ok"], Value::Bool(true));
    refused(
        &home,
        &["proof", ".", "taken", "--all-yes"],
        &["--all-yes answers for a picture that is judged"],
    );
    refused(
        &home,
        &["proof", ".", "judged", "--all-yes", "--not-ok"],
        &["exclude each other"],
    );
}

#[test]
fn a_slip_is_taken_back_by_the_beginning_of_its_id() {
    let home = TempHome::laptop();
    let opening = id(&receipts(&home, &["job", "J1", "--trailer", "LF 5396"])[0]);
    let slip = id(&receipts(&home, &["check", ".", "placement-top", "11 in"])[0]);
    refused(&home, &["withdraw", &slip[..10]], &["`withdraw` needs --why"]);
    refused(&home, &["withdraw", &slip[..10], "--why", " "], &["an empty one"]);
    refused(
        &home,
        &["withdraw", "zz11", "--why", "x"],
        &["no fact 'zz11' is known here"],
    );
    refused(
        &home,
        &["withdraw", &opening, "--why", "x"],
        &["opened job J1", "stand the job down"],
    );
    let taken_back = receipts(&home, &["withdraw", &slip[..10], "--why", "read from the wrong end"]);
    assert_eq!(taken_back[0]["job"], "J1");
    let again = id(&taken_back[0]);
    refused(
        &home,
        &["withdraw", &again[..12], "--why", "x"],
        &["is a withdrawal, and stays"],
    );
    // Its approval names the withdrawn fact by the beginning of its id.
    let approval = receipts(
        &home,
        &["check", ".", "approval", "--ok", "--of", &slip[..12], "--by", "bram"],
    );
    let row = |id: &Value| {
        let history = home.json(&["history", "--job", "J1"][..]);
        let rows = history["rows"].as_array().unwrap().clone();
        rows.into_iter().find(|row| row["id"] == *id).unwrap()
    };
    assert_eq!(row(&approval[0]["fact"])["fact"]["of"], slip);
}

#[test]
fn a_line_that_takes_back_what_is_not_there_is_rejected() {
    let home = TempHome::laptop();
    let line = format!(
        "{{\"kind\":\"withdraw\",\"fact\":\"{}\",\"why\":\"x\"}}\n{{\"kind\":\"note\",\"text\":\"good\"}}\n",
        "07".repeat(32)
    );
    let ran = home.feed("record", &line).exits(4);
    assert!(
        ran.tells("no fact 07070707 is known here") && ran.reads("note good"),
        "{ran}"
    );
    let no_reason = r#"{"kind":"ruling","finding":"f-1","ruling":"void","why":" "}"#;
    home.feed("record", no_reason).exits(4).says(&["why"]);
}

#[test]
fn a_job_is_found_by_its_trailer_and_never_made_by_accident() {
    let home = TempHome::laptop();
    home.good(&["job", "0302-M21", "--trailer", "LF 5396"]);
    home.good(&["job", "0302-M22", "--trailer", "LF 5397"]);
    for name in ["LF 5396", "lf-5396", "LF5396", "0302-m21"] {
        let receipt = &receipts(&home, &["check", name, "kit-complete", "ok"])[0];
        assert_eq!(receipt["job"], "0302-M21", "{name}");
        assert_eq!(receipt["trailer"], serde_json::json!(["LF 5396"]), "{receipt}");
    }
    home.good(&["check", "LF5397", "kit", "ok"]).shows(&["trailer LF 5397"]);
    for args in [
        &["check", "0302-M23", "kit-complete", "ok"][..],
        &["sign-off", "LF 5398"],
        &["note", "hello", "--job", "0302-M2x"],
        &["clearance", "0302-M23"],
        &["history", "--job", "0302-M23"],
        &["findings", "--job", "0302-M23"],
        &["job", "show", "0302-M23"],
    ] {
        refused(&home, args, &["is known here; near to it: "]);
    }
    refused(
        &home,
        &["check", "0302", "kit", "ok"],
        &["0302-M21 (trailer LF 5396) or 0302-M22 (trailer LF 5397)"],
    );
    // A second visit: the trailer alone does not tell which job is meant.
    home.good(&["job", "--trailer", "lf5396", "--new"]);
    refused(
        &home,
        &["check", "LF 5396", "kit", "ok"],
        &["could be job 0302-M21 (open) or LF5396-"],
    );
    home.good(&["stand-down", "0302-M22", "--reason", "weather"]);
    refused(
        &home,
        &["note", "x", "--job", "LF-5397"],
        &["no job on trailer LF-5397 is open; there was 0302-M22 (stood down)"],
    );
    refused(
        &home,
        &["job", "lf 5397", "--wall", "plate"],
        &["no job on trailer lf 5397 is open"],
    );
}

#[test]
fn a_line_may_name_a_job_that_comes_later() {
    let home = TempHome::laptop();
    let ran = home
        .feed(
            "record",
            r#"{"kind":"check","job":"J9","check":"kit-complete","ok":true}"#,
        )
        .done();
    assert!(ran.tells("no job J9 was known here"), "{ran}");
    let both = [
        r#"{"kind":"check","job":"J10","check":"kit-complete","ok":true}"#,
        r#"{"kind":"job","job":"J10","trailer":"LF 5396"}"#,
    ];
    let ran = home.feed("record", both.join("\n")).done();
    assert!(!ran.tells("no job J10"), "{ran}");
}

#[test]
fn link_unlink_and_settings_belong_to_the_job_at_hand() {
    let home = TempHome::laptop();
    home.good(&["job", "J1", "--trailer", "LF 5396"]);
    for args in [
        &["link", "LC-1", "LT-1"][..],
        &["settings", "LT-1", "asked"],
        &["unlink", "LC-1", "LT-1", "--why", "wrong trailer"],
    ] {
        assert_eq!(receipts(&home, args)[0]["job"], "J1", "{args:?}");
    }
    let handed = &receipts(&home, &["handover", "LF 5396", "--to", "the gate"])[0];
    assert_eq!(handed["says"], "handover LF 5396 the gate");
    let planned = &receipts(
        &home,
        &[
            "job",
            "--trailer",
            "LF 5400",
            "--purpose",
            "prove",
            "--planned",
            "2026-03-09",
        ],
    )[0];
    assert!(
        planned["says"].as_str().unwrap().contains("prove 2026-03-09 LF 5400"),
        "{planned}"
    );
    refused(
        &home,
        &["job", "--trailer", "LF 5401", "--planned", "soon"],
        &["not a date"],
    );
    refused(
        &home,
        &["job", "--trailer", "LF 5401", "--purpose", "paint"],
        &["fit, replace, take-off, prove"],
    );
}

#[test]
fn what_cannot_be_meant_of_a_pair_is_refused() {
    let home = TempHome::laptop();
    home.good(&[
        "job",
        "J1",
        "--trailer",
        "LF 5396",
        "--camera",
        "LC-1",
        "--tracker",
        "LT-1",
    ]);
    refused(
        &home,
        &["link", "LT-1", "LC-1"],
        &["LT-1 is known here as a tracker", "gladhand link LC-1 LT-1"],
    );
    refused(
        &home,
        &["unlink", "LC-1", "LT-1"],
        &["was never linked", "Neither is linked"],
    );
    home.good(&["link", "LC-1", "LT-1"]);
    refused(
        &home,
        &["unlink", "LC-1", "LT-2"],
        &["Linked is camera LC-1 with tracker LT-1 (job J1)"],
    );
    let line = r#"{"kind":"unlink","camera":"LC-1","tracker":"LT-2"}"#;
    let ran = home.feed("record", line).done();
    assert!(ran.tells("camera LC-1 was never linked with tracker LT-2"), "{ran}");
    home.good(&["unlink", "LC-1", "LT-1", "--why", "wrong trailer"]);
}

#[test]
fn settings_of_a_job_are_those_of_its_tracker() {
    let home = TempHome::laptop();
    home.good(&["job", "J1", "--trailer", "LF 5396"]);
    refused(&home, &["settings", ".", "asked"], &["job J1 has no tracker yet"]);
    home.good(&["link", "LC-1", "LT-1"]);
    home.good(&["job", "J2", "--trailer", "LF 5397", "--tracker", "LT-2"]);
    for (given, job, tracker) in [
        (".", "J2", "LT-2"),
        ("LF5396", "J1", "LT-1"),
        ("J2", "J2", "LT-2"),
        ("LT-9", "J2", "LT-9"),
    ] {
        let receipt = &receipts(&home, &["settings", given, "asked"])[0];
        assert_eq!(receipt["says"], format!("settings {job} {tracker} asked"), "{given}");
    }
}

#[test]
fn a_table_of_a_spreadsheet_is_taken_and_none_is_run() {
    let home = TempHome::laptop();
    let table = "KIND;Job;Trailer;Fleet\r\njob;J1;LF 5396;=HYPERLINK(1)\r\nnonsense\r\n";
    let wide: Vec<u8> = "\u{feff}"
        .encode_utf16()
        .chain(table.encode_utf16())
        .flat_map(u16::to_le_bytes)
        .collect();
    let file = home.beside("shift.csv");
    std::fs::write(&file, wide).unwrap();
    let ran = home.run(&["record", file.to_str().unwrap()]).exits(4);
    assert!(
        ran.reads("job J1 LF 5396 =HYPERLINK(1)") && ran.tells("shift.csv:3: rejected"),
        "{ran}"
    );
    let csv = home.good("report --format csv").out;
    assert!(csv.contains(",'=HYPERLINK(1),") && csv.contains(",LF 5396,"), "{csv}");
}

#[test]
fn shells_and_manuals_know_each_command() {
    let home = TempHome::laptop();
    for shell in ["bash", "zsh", "fish"] {
        let script = home.good(&["completions", shell]).out;
        assert!(
            script.contains("stand-down") && script.contains("may-be-empty"),
            "{shell}"
        );
    }
    let pages = home.beside("pages");
    home.good(&["man", pages.to_str().unwrap()]);
    let page = std::fs::read_to_string(pages.join("gladhand-withdraw.1")).unwrap();
    assert!(page.contains("was a slip"), "{page}");
    assert!(pages.join("gladhand-bundle-write.1").is_file());
    home.run(&["completions", "command.com"]).exits(2);
}

#[test]
fn a_named_pipe_is_read_like_a_file() {
    let home = TempHome::laptop();
    let pipe = home.beside("scanner");
    let made = std::process::Command::new("mkfifo").arg(&pipe).status().unwrap();
    assert!(made.success());
    let writer = {
        let pipe = pipe.clone();
        std::thread::spawn(move || std::fs::write(pipe, "{\"kind\":\"note\",\"text\":\"by pipe\"}\n"))
    };
    let ran = home.good(&["record", pipe.to_str().unwrap()]);
    writer.join().unwrap().unwrap();
    assert!(ran.reads("note by pipe") && ran.tells("1 fact recorded"), "{ran}");
}
