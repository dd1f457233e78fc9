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
    ends(&home, &["findings", "--gate"], "", 0);
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
