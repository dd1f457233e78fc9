//! What a script sees: each exit code, from a command that ends with it.

use gladhand_tests::process::{Home, TempHome, command};

#[track_caller]
fn ends(home: &Home, args: &[&str], stdin: &str, code: i32) {
    let ran = home.feed(args, stdin).exits(code);
    let is_quiet = ran.err.is_empty();
    assert!(
        code == 0 || !is_quiet || args.contains(&"--gate"),
        "{args:?} says nothing"
    );
}

const PAIRED_TWICE: &str = r#"
{"kind":"job","job":"J1","trailer":"LF 1","at":"2026-03-02T08:00:00Z"}
{"kind":"link","job":"J1","camera":"LC-1","tracker":"LT-1","at":"2026-03-02T08:10:00Z"}
{"kind":"job","job":"J2","trailer":"LF 2","at":"2026-03-02T09:00:00Z"}
{"kind":"link","job":"J2","camera":"LC-1","tracker":"LT-2","at":"2026-03-02T09:10:00Z"}
"#;

#[test]
fn done_failed_and_bad_input() {
    let home = TempHome::laptop();
    ends(&home, &["note", "all is well"], "", 0);
    ends(&home, &["status"], "", 0);
    ends(&home, &["export", "--automerge", "/proc/nobody/writes/here"], "", 1);
    ends(&home, &["setup", "--name", "again"], "", 2);
    ends(&home, &["clearance", "J9"], "", 2);
    ends(&home, &["findings", "--rule", "nonsense"], "", 2);
    ends(&home, &["report", "--from", "yesterdayish"], "", 2);
    ends(&home, &["record", "not-there.jsonl"], "", 2);
    ends(&home, &["bundle", "read", "not-there.bundle"], "", 2);
    ends(&home, &["join", "no-invite-at-all"], "", 2);
    ends(&home, &["invite"], "", 2);
    ends(&home, &["retire", "mara"], "", 2);
    ends(&home, &["ruling", "f-1", "--ruling", "void"], "", 2);
    ends(&home, &["ruling", "f-1", "--ruling", "void", "--why", ""], "", 2);
    ends(&home, &["ruling", "f-1", "--ruling", "void", "--why", " "], "", 2);
    ends(&home, &["standard", "check", "-"], "nonsense", 2);
    let elsewhere = |folder: &str, args: &[&str]| {
        let ran = command().arg("--home").arg(folder).args(args).output().unwrap();
        ran.status.code()
    };
    assert_eq!(elsewhere("/proc/nobody/home", &["setup", "--name", "mara"]), Some(1));
    assert_eq!(elsewhere("/proc/nobody/home", &["status"]), Some(2));
}

#[test]
fn open_stops_count_only_with_gate() {
    let home = TempHome::laptop();
    for command in ["findings", "report"] {
        ends(&home, &[command, "--gate"], "", 2);
        ends(&home, &[command, "--gate", "--may-be-empty"], "", 0);
    }
    ends(&home, &["record"], PAIRED_TWICE, 0);
    for command in ["findings", "report"] {
        ends(&home, &[command], "", 0);
        ends(&home, &[command, "--gate"], "", 3);
    }
}

#[test]
fn some_rejected_unreachable_and_refused() {
    let home = TempHome::laptop();
    ends(
        &home,
        &["record"],
        "{\"kind\":\"note\",\"text\":\"good\"}\nno fact\n",
        4,
    );
    // Nobody listens at a port that was just given back.
    let free = std::net::TcpListener::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap();
    ends(&home, &["sync", &free.to_string()], "", 5);
    ends(&home, &["sync"], "", 5);

    let (ours, theirs) = (TempHome::depot(""), TempHome::depot(""));
    let invite = |depot: &Home| depot.run(&["invite"]).out;
    ends(&home, &["join", "-"], &invite(&ours), 0);
    ends(&home, &["join", "-"], &invite(&theirs), 6);
    let bundle = theirs.file("theirs.bundle");
    ends(&theirs, &["bundle", "write", bundle.to_str().unwrap()], "", 0);
    ends(&home, &["bundle", "read", bundle.to_str().unwrap()], "", 6);
}

#[test]
fn a_gate_never_passes_over_nothing() {
    let home = TempHome::laptop();
    home.good(&[
        "job",
        "J1",
        "--trailer",
        "LF 5396",
        "--yard",
        "Tolland",
        "--fleet",
        "Larkspur Freight",
    ]);
    home.good(&["link", "LC-4821", "LT-1"]);
    for (args, words) in [
        (
            &["findings", "--job", "J2"][..],
            "no job 'J2' is known here; near to it: job J1",
        ),
        (
            &["findings", "--trailer", "LF 5397"],
            "no trailer 'LF 5397' is recorded here; near to it: LF 5396",
        ),
        (
            &["findings", "--camera", "LC-4822"],
            "no camera 'LC-4822' is recorded here; near to it: LC-4821",
        ),
        (
            &["findings", "--tracker", "LT-2"],
            "no tracker 'LT-2' is recorded here; near to it: LT-1",
        ),
        (
            &["findings", "--device", "lap-nobody"],
            "no device 'lap-nobody' is known here",
        ),
        (
            &["report", "--yard", "Toland"],
            "no yard 'Toland' is recorded here; near to it: Tolland",
        ),
        (
            &["report", "--fleet", "Larkspur"],
            "no fleet 'Larkspur' is recorded here; near to it: Larkspur Freight",
        ),
    ] {
        for args in [args.to_vec(), [args, &["--gate"]].concat()] {
            let ran = home.run(&args).exits(2);
            assert!(ran.tells(words), "{words}: {ran}");
        }
    }
    // Names are compared by what they say, not by how they are typed.
    home.good(&["report", "--gate", "--fleet", "LARKSPUR  freight", "--yard", "tolland"]);
    home.good(&["findings", "--gate", "--trailer", "lf-5396", "--camera", "lc4821"]);
    let nothing = home
        .run(&["report", "--gate", "--from", "2020-01-01", "--to", "2020-01-02"])
        .exits(2);
    assert!(
        nothing.tells("--gate has nothing to look at") && nothing.tells("--may-be-empty"),
        "{nothing}"
    );
    home.good(&["report", "--gate", "--may-be-empty", "--to", "2020-01-02"]);
    home.good(&["report", "--gate", "--from", "yesterday", "--to", "today"]);
}

#[test]
fn findings_are_selected_by_what_they_touch() {
    let home = TempHome::laptop();
    home.feed("record", PAIRED_TWICE).done();
    home.good(&["job", "J3", "--trailer", "LF 3"]);
    let rules = |args: &[&str]| -> Vec<String> {
        let found = home.json(&[&["findings", "--open"], args].concat()[..]);
        let rules = found["findings"].as_array().unwrap().iter();
        rules.map(|f| f["rule"].as_str().unwrap().to_owned()).collect()
    };
    for touched in [
        ["--trailer", "lf-1"],
        ["--camera", "LC 1"],
        ["--tracker", "LT-2"],
        ["--device", "mara"],
    ] {
        assert_eq!(rules(&touched), ["camera-on-two-trackers"], "{touched:?}");
    }
    assert_eq!(rules(&["--trailer", "LF 3"]), [""; 0]);
    let ran = home.run(&["findings", "--gate", "--trailer", "LF 3"]);
    assert_eq!(ran.code, Some(0), "{ran}");
    home.run(&["findings", "--gate", "--trailer", "LF 2"]).exits(3);
}

#[test]
fn a_history_names_what_is_open_first_and_may_begin_late() {
    let home = TempHome::laptop();
    home.feed("record", PAIRED_TWICE).done();
    let shown = home.good(&["history", "--job", "J1"]).out;
    let first = shown.lines().next().unwrap();
    assert!(
        first.starts_with("stop  f-") && first.contains("camera-on-two-trackers"),
        "{shown}"
    );
    let since = |time: &str| {
        home.json(&["history", "--since", time][..])["rows"]
            .as_array()
            .unwrap()
            .len()
    };
    assert_eq!(since("2026-03-02T09:05:00Z"), 1);
    assert_eq!((since("2026-03-02"), since("2026-03-03")), (4, 0));
    let by = |time: &str| {
        home.json(&["history", "--as-of", time][..])["rows"]
            .as_array()
            .unwrap()
            .len()
    };
    assert_eq!((by("2026-03-01"), by("2026-03-02"), by("today")), (0, 4, 4));
    home.run(&["history", "--since", "lately"])
        .exits(2)
        .says(&["--since", "yesterday"]);
}
