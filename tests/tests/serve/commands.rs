//! While a daemon runs it carries out the commands: the same bytes, the same exit codes, and nobody can hurt it.

use std::io::{BufRead, Read, Write};
use std::os::unix::net::UnixStream;

use gladhand_tests::Ran;
use gladhand_tests::process::{DEADLINE, TempHome, feed, until};

use crate::note_line;

const DAY: &str = r#"{"kind":"job","job":"J1","trailer":"4711","fleet":"Larkspur Freight","yard":"Tolland","wall":"plate","load":"loaded","tracker":"T-100","camera":"C-200","at":"2026-03-02T08:00:00Z"}
{"kind":"link","job":"J1","camera":"C-200","tracker":"T-100","at":"2026-03-02T08:05:00Z"}
{"kind":"link","job":"J1","camera":"C-200","tracker":"T-101","at":"2026-03-02T08:06:00Z"}
{"kind":"check","job":"J1","check":"placement-top","value":"1 3/4 in","at":"2026-03-02T08:07:00Z"}
{"kind":"job","job":"J22","trailer":"4712","at":"2026-03-02T08:10:00Z"}
{"kind":"job","job":"J23","trailer":"4713","at":"2026-03-02T08:10:00Z"}
not json
{"kind":"check","job":"J1"}
{"kind":"sign-off","job":"J1","at":"2026-03-02T09:00:00Z"}
"#;

/// Every command line, with what stands on stdin. Those that record name their time, so that a second time they say the same.
fn command_lines() -> Vec<(Vec<&'static str>, &'static str)> {
    let at = ["--at", "2026-03-02T10:00:00Z"];
    let timed = |args: &[&'static str]| [args, &at[..]].concat();
    vec![
        (vec!["record", "-"], DAY),
        (vec!["record", "--json"], DAY),
        (vec!["record", "day.jsonl"], ""),
        (vec!["record", "--json", "./sub/../day.jsonl"], ""),
        (vec!["record", "missing.jsonl"], ""),
        (timed(&["job", "J3", "--trailer", "4714", "--wall", "plate"]), ""),
        (timed(&["--json", "job", "J3", "--trailer", "4714"]), ""),
        (timed(&["scan", "4711", "--what", "trailer", "--job", "J1"]), ""),
        (
            timed(&[
                "check",
                "J1",
                "placement-top",
                "1 3/4 in",
                "--ok",
                "--answer",
                "lens-clear=yes",
            ]),
            "",
        ),
        (
            timed(&["check", "J1", "placement-top", "--answer", "lens-clear=perhaps"]),
            "",
        ),
        (timed(&["check", "J2", "placement-top", "--ok"]), ""),
        (timed(&["link", "C-201", "T-102", "--job", "J3"]), ""),
        (
            timed(&["unlink", "C-201", "T-102", "--why", "wrong one", "--job", "J3"]),
            "",
        ),
        (timed(&["settings", "T-100", "live", "--job", "J1"]), ""),
        (timed(&["settings", "T-100", "perhaps"]), ""),
        (timed(&["proof", "J1", "taken", "--picture", "picture.jpg"]), ""),
        (
            timed(&["proof", "J1", "judged", "--picture", "missing.jpg", "--ok"]),
            "",
        ),
        (timed(&["sign-off", "J1"]), ""),
        (timed(&["stand-down", "J22", "--why", "no time"]), ""),
        (timed(&["note", "a remark"]), ""),
        (timed(&["ruling", "nothing", "--ruling", "accepted", "--why", "so"]), ""),
        (vec!["clearance", "J1"], ""),
        (vec!["--json", "clearance", "J1"], ""),
        (vec!["clearance", "unknown"], ""),
        (vec!["bundle", "write", "out.bundle"], ""),
        (vec!["--json", "bundle", "write", "out.bundle"], ""),
        (vec!["bundle", "write", "nowhere/out.bundle"], ""),
        (vec!["bundle", "read", "out.bundle"], ""),
        (vec!["--json", "bundle", "read", "out.bundle"], ""),
        (vec!["bundle", "read", "day.jsonl"], ""),
        (vec!["bundle", "verify", "out.bundle"], ""),
        (vec!["status"], ""),
        (vec!["--json", "status"], ""),
        (vec!["findings"], ""),
        (vec!["--json", "findings", "--open"], ""),
        (vec!["findings", "--gate"], ""),
        (vec!["findings", "--rule", "no-such-rule"], ""),
        (vec!["findings", "--job", "J2"], ""),
        (vec!["history"], ""),
        (vec!["--json", "history", "--job", "J1"], ""),
        (
            vec!["history", "--camera", "C-200", "--as-of", "2026-03-02T08:05:30Z"],
            "",
        ),
        (vec!["history", "--as-of", "yesterday"], ""),
        (vec!["history", "--tracker", "unheard-of"], ""),
        (vec!["report"], ""),
        (vec!["report", "--format", "csv", "--gate"], ""),
        (vec!["--json", "report"], ""),
        (vec!["export", "--automerge", "documents"], ""),
        (vec!["verify"], ""),
        (vec!["--json", "verify"], ""),
        (vec!["invite"], ""),
        (vec!["join", "GLADHAND-INVITE-NONE"], ""),
        (vec!["join", "-"], "nothing of the kind"),
        (vec!["join", "day.jsonl"], ""),
    ]
}

/// Free space changes from one moment to the next; nothing else may.
fn without_free_space(text: &str) -> String {
    let told = |line: &&str| !line.contains("MiB free") && !line.contains("disk_free_bytes");
    text.lines().filter(told).collect::<Vec<_>>().join("\n")
}

fn said(ran: &Ran) -> (String, String, Option<i32>) {
    (without_free_space(&ran.out), without_free_space(&ran.err), ran.code)
}

#[test]
fn every_command_says_the_same_with_and_without_a_daemon() {
    let home = TempHome::laptop();
    let elsewhere = tempfile::tempdir().unwrap();
    std::fs::create_dir(elsewhere.path().join("sub")).unwrap();
    std::fs::write(elsewhere.path().join("day.jsonl"), DAY).unwrap();
    std::fs::write(elsewhere.path().join("picture.jpg"), b"a picture").unwrap();
    // The key is made readable for others, so that every command has something to tell beside its data.
    let open = std::os::unix::fs::PermissionsExt::from_mode(0o644);
    std::fs::set_permissions(home.file("key"), open).unwrap();
    let run = |args: &[&str], stdin: &str| feed(home.command(args).current_dir(&elsewhere), stdin);
    // Once to have everything recorded, and once to hear what is said then.
    command_lines().iter().for_each(|(args, stdin)| drop(run(args, stdin)));
    let alone: Vec<_> = command_lines()
        .iter()
        .map(|(args, stdin)| said(&run(args, stdin)))
        .collect();
    let daemon = home.serve();
    let mut codes = std::collections::BTreeSet::new();
    for ((args, stdin), alone) in command_lines().iter().zip(&alone) {
        let lent = said(&run(args, stdin));
        assert_eq!(lent.0, alone.0, "stdout of {args:?}");
        assert_eq!(lent.1, alone.1, "stderr of {args:?}");
        assert_eq!(lent.2, alone.2, "exit code of {args:?}");
        codes.insert(lent.2);
    }
    daemon.stop();
    let wanted = [0, 2, 3, 4].map(Some);
    assert!(
        wanted.iter().all(|code| codes.contains(code)),
        "the lines show the exit codes: {codes:?}"
    );
    assert!(alone[0].1.contains("chmod 600"), "{}", alone[0].1);
}

#[test]
fn a_person_at_a_pipe_gets_each_receipt_at_once_and_holds_up_nobody() {
    let home = TempHome::laptop();
    let _daemon = home.serve();
    let mut typing = home.start(&["record", "-"]);
    let mut stdin = typing.stdin();
    let mut receipts = typing.stdout().lines();
    for text in ["one", "two", "three"] {
        stdin.write_all(note_line(text).as_bytes()).unwrap();
        assert!(receipts.next().unwrap().unwrap().contains(text));
        // Others are served meanwhile.
        home.good("status");
    }
    drop(stdin);
    assert!(typing.wait().success());
    assert_eq!(home.notes(), ["one", "two", "three"]);
}

#[test]
fn a_reader_who_does_not_read_holds_up_nobody() {
    let home = TempHome::laptop();
    let long = "x".repeat(20_000);
    let lines: String = (0..1_000).map(|n| note_line(&format!("{n} {long}"))).collect();
    home.feed(&["record", "-"], lines).done();
    let alone = home.run(&["history", "--json"]);
    let daemon = home.serve();
    let mut slow = home.start(&["history", "--json"]);
    let (mut first, mut stdout) = ([0; 100], slow.stdout());
    stdout.read_exact(&mut first).unwrap();
    // It has begun to write 20 MB that nobody takes. The node is free all the same.
    home.good(&["note", "in between"]);
    let mut rest = Vec::new();
    stdout.read_to_end(&mut rest).unwrap();
    assert!(slow.wait().success());
    assert!(
        first.iter().chain(&rest).eq(alone.out.as_bytes()),
        "it gets every byte in the end"
    );
    // One that goes away altogether, as `| head` does, is no failure.
    let mut gone = home.start(&["history", "--json"]);
    gone.stdout().read_exact(&mut first).unwrap();
    assert!(gone.wait().success());
    daemon.stop();
}

#[test]
fn a_client_that_is_killed_leaves_what_it_had_a_receipt_for() {
    let home = TempHome::laptop();
    let daemon = home.serve();
    let mut child = home.start(&["record", "-"]);
    let mut stdin = child.stdin();
    stdin.write_all(note_line("before").as_bytes()).unwrap();
    let mut receipt = String::new();
    child.stdout().read_line(&mut receipt).unwrap();
    child.kill();
    assert!(receipt.contains("before"));
    assert_eq!(home.notes(), ["before"]);
    home.good(&["note", "after"]);
    daemon.stop();
    assert_eq!(home.notes(), ["before", "after"]);
}

#[test]
fn nothing_that_comes_through_the_socket_hurts_the_daemon() {
    let home = TempHome::laptop();
    let daemon = home.serve();
    let greeting = b"gladhand control 2\n";
    let huge = [&greeting[..], &u32::MAX.to_le_bytes()].concat();
    let garbage = [&greeting[..], &20u32.to_le_bytes(), &[0xa5; 20]].concat();
    let half = [&greeting[..], &1_000u32.to_le_bytes(), &[0; 10]].concat();
    let other: &[u8] = b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n";
    for (bytes, hang_up) in [
        (&huge[..], false),
        (&garbage, false),
        (&half, true),
        (other, false),
        (b"", true),
    ] {
        let mut stream = UnixStream::connect(home.socket()).unwrap();
        stream.write_all(bytes).unwrap();
        if hang_up {
            stream.shutdown(std::net::Shutdown::Write).unwrap();
        }
        let mut answer = Vec::new();
        // It says who it is, and hangs up.
        stream.set_read_timeout(Some(DEADLINE)).unwrap();
        stream.read_to_end(&mut answer).ok();
        assert_eq!(answer, greeting, "after {} bytes", bytes.len());
    }
    // Idle ones are let go after some seconds; meanwhile others are served.
    let idle: Vec<UnixStream> = (0..40).map(|_| UnixStream::connect(home.socket()).unwrap()).collect();
    home.good(&["note", "alive"]);
    assert_eq!(home.notes(), ["alive"]);
    drop(idle);
    daemon.stop();
}

#[test]
fn another_version_is_told_to_restart_the_daemon() {
    let home = TempHome::laptop();
    let listener = std::os::unix::net::UnixListener::bind(home.socket()).unwrap();
    let old = std::thread::spawn(move || {
        let (mut stream, _) = listener.accept().unwrap();
        stream.write_all(b"gladhand control 0\n").unwrap();
        let mut all = Vec::new();
        stream.read_to_end(&mut all).ok();
    });
    home.run("status").exits(1).says(&["Restart the daemon"]);
    old.join().unwrap();
}

#[test]
fn many_commands_at_once_are_all_carried_out() {
    let home = TempHome::laptop();
    let daemon = home.serve();
    std::thread::scope(|scope| {
        for worker in 0..8 {
            let home = &home;
            scope.spawn(move || {
                for n in 0..5 {
                    home.good(&["note", &format!("{worker}.{n}")]);
                }
            });
        }
    });
    let mut notes = home.notes();
    notes.sort();
    assert_eq!(notes.len(), 40);
    notes.dedup();
    assert_eq!(notes.len(), 40);
    daemon.stop();
    until("the socket is gone", || !home.socket().exists());
}
