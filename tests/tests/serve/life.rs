//! How a daemon begins and ends: one a home, ready when it says so, gone within seconds, and no trace that hinders anybody.

use std::io::{BufRead, Read, Write};
use std::os::unix::fs::PermissionsExt;
use std::time::{Duration, Instant};

use gladhand_tests::Home;
use gladhand_tests::process::{Daemon, Running, Signal, TempHome, until};

use crate::note_line;

/// What an orderly end may take on the busiest machine. On an idle one it is a few hundredths of a second.
const END: Duration = Duration::from_secs(30);

#[test]
fn it_says_when_it_is_ready_and_ends_in_order() {
    let home = TempHome::laptop();
    let daemon = home.serve();
    assert_eq!(daemon.ready, format!("serving mara in {}\n", home.path.display()));
    let mode = std::fs::metadata(home.socket()).unwrap().permissions().mode();
    assert_eq!(mode & 0o777, 0o600);
    assert!(daemon.stop() < END);
    assert!(!home.socket().exists());
    let log = home.log();
    assert!(
        log.contains("serving mara") && log.contains("SIGTERM") && log.contains("shut down"),
        "{log}"
    );

    let mut daemon = Daemon::start(&mut home.command("--json serve --log json"));
    let ready: serde_json::Value = serde_json::from_str(&daemon.ready).unwrap();
    assert_eq!(ready["serving"], "mara");
    daemon.signal(Signal::INT);
    assert_eq!(daemon.wait(), 0);
    let stderr = daemon.log();
    assert!(!stderr.is_empty());
    for line in stderr.lines() {
        assert!(serde_json::from_str::<serde_json::Value>(line).is_ok(), "{line}");
    }
}

#[test]
fn one_home_has_one_daemon() {
    let home = TempHome::laptop();
    let daemon = home.serve();
    home.run("serve").exits(1).says(&["serves the home"]);
    home.good(&["note", "still served"]);
    daemon.stop();
}

#[test]
fn without_a_home_there_is_no_daemon() {
    let dir = tempfile::tempdir().unwrap();
    let nowhere = Home::at(dir.path().join("none"));
    nowhere.run("serve").exits(2).says(&["gladhand setup"]);
}

#[test]
fn a_socket_that_a_killed_daemon_left_is_in_nobodys_way() {
    let home = TempHome::laptop();
    home.serve().kill_9();
    assert!(home.socket().exists());
    home.good(&["note", "without a daemon"]);
    assert!(!home.socket().exists(), "a stale socket is taken away");
    home.serve().kill_9();
    let daemon = home.serve();
    home.good(&["note", "with the next one"]);
    daemon.stop();
    assert_eq!(home.notes(), ["without a daemon", "with the next one"]);
}

#[test]
fn a_home_with_a_long_name_has_its_socket_elsewhere() {
    let dir = tempfile::tempdir().unwrap();
    let runtime = tempfile::tempdir().unwrap();
    std::fs::set_permissions(runtime.path(), PermissionsExt::from_mode(0o700)).unwrap();
    let home = Home::laptop(dir.path().join("l".repeat(60)).join("o".repeat(60)), "mara", "mara").quiet();
    for runtime in [Some(runtime.path()), None] {
        let mut serve = home.command("serve");
        match runtime {
            Some(runtime) => serve.env("XDG_RUNTIME_DIR", runtime),
            None => serve.env_remove("XDG_RUNTIME_DIR"),
        };
        let daemon = Daemon::start(&mut serve);
        let place = std::fs::read_to_string(home.file("control.path")).unwrap();
        let place = std::path::PathBuf::from(place.trim_end());
        assert!(
            runtime.is_none_or(|runtime| place.starts_with(runtime)),
            "{}",
            place.display()
        );
        let folder = std::fs::metadata(place.parent().unwrap()).unwrap().permissions().mode();
        assert_eq!(folder & 0o777, 0o700);
        // The client needs no such variable: the home says where.
        let mut note = home.command("note x");
        Running::spawn(note.env_remove("XDG_RUNTIME_DIR")).ran().done();
        daemon.stop();
        assert!(!place.exists() && !home.file("control.path").exists());
    }
}

#[test]
fn an_end_in_the_middle_of_recording_keeps_what_has_a_receipt() {
    let home = TempHome::laptop();
    let mut daemon = home.serve();
    let mut child = home.start(&["record", "-"]);
    let mut stdin = child.stdin();
    let writer = std::thread::spawn(move || {
        // Until nobody listens any more.
        for n in 0.. {
            if stdin.write_all(note_line(&format!("n{n}")).as_bytes()).is_err() {
                return;
            }
        }
    });
    let mut receipts = child.stdout().lines();
    let mut received: Vec<String> = receipts.by_ref().take(200).map(Result::unwrap).collect();
    let asked = Instant::now();
    daemon.signal(Signal::TERM);
    assert_eq!(daemon.wait(), 0);
    assert!(asked.elapsed() < END);
    received.extend(receipts.map_while(Result::ok));
    let code = child.wait().code();
    writer.join().unwrap();
    assert_eq!(
        code,
        Some(1),
        "what was not read is not recorded, and the exit code says so"
    );
    let notes = home.notes();
    for receipt in &received {
        let note = receipt.rsplit(' ').next().unwrap();
        assert!(notes.iter().any(|n| n == note), "{receipt} has a receipt");
    }
    assert!(received.len() >= 200 && notes.len() >= received.len());
}

#[test]
fn a_person_who_still_types_does_not_hold_up_the_end() {
    let home = TempHome::laptop();
    let daemon = home.serve();
    let mut child = home.start(&["record", "-"]);
    let mut stdin = child.stdin();
    stdin.write_all(note_line("typed").as_bytes()).unwrap();
    let mut stdout = child.stdout();
    let mut receipt = String::new();
    stdout.read_line(&mut receipt).unwrap();
    assert!(daemon.stop() < END);
    assert_eq!(child.wait().code(), Some(1));
    let mut told = String::new();
    child.stderr().read_to_string(&mut told).unwrap();
    assert!(told.contains("shutting down"), "{told}");
    assert_eq!(home.notes(), ["typed"]);
}

#[test]
fn commands_that_come_while_it_starts_or_ends_find_their_way() {
    let home = TempHome::laptop();
    let mut expected = Vec::new();
    for round in 0..6 {
        let mut daemon = Daemon::spawn(&mut home.command("serve"));
        let name = format!("starting {round}");
        home.good(&["note", &name]);
        expected.push(name);
        until("it is ready", || home.log().matches("serving mara").count() > round);
        daemon.signal(Signal::TERM);
        let name = format!("ending {round}");
        home.good(&["note", &name]);
        expected.push(name);
        assert_eq!(daemon.wait(), 0);
    }
    assert_eq!(home.notes(), expected);
}

#[test]
fn findings_are_the_same_after_a_kill() {
    let home = TempHome::laptop();
    let daemon = home.serve();
    let day = r#"{"kind":"job","job":"J1","trailer":"4711"}
{"kind":"link","job":"J1","camera":"C-200","tracker":"T-100"}
{"kind":"link","job":"J1","camera":"C-200","tracker":"T-101"}
"#;
    home.feed(&["record", "-"], day).done();
    let found = home.run(&["--json", "findings"]);
    assert!(found.out.contains("camera-on-two-trackers"));
    daemon.kill_9();
    assert_eq!(home.run("--json findings").out, found.out);
}
