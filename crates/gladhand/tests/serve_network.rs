//! Daemons that meet: what falls into one inbox is seen on the other machine, without anybody asking.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod serve_common;

use std::net::TcpListener;

use serve_common::{Daemon, Home, binary, note_line, text, until};

fn configure(home: &Home, from: &str, to: &str) {
    let file = home.path.join("config.toml");
    let config = std::fs::read_to_string(&file).unwrap();
    assert!(config.contains(from), "{config}");
    std::fs::write(file, config.replace(from, to)).unwrap();
}

fn depot(listen: &str) -> Home {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("depot");
    let mut setup = binary();
    setup
        .arg("--home")
        .arg(&path)
        .args(["setup", "--depot", "--name", "harrow-street", "--listen", listen]);
    assert!(setup.output().unwrap().status.success());
    let home = Home { path, _dir: Some(dir) };
    configure(&home, "discover = true", "discover = false");
    home
}

#[test]
fn a_fact_in_a_laptops_inbox_is_at_the_depot_within_moments() {
    let depot = depot("127.0.0.1:0");
    let depot_daemon = Daemon::start(&mut depot.command(&["--json", "serve"]));
    let ready: serde_json::Value = serde_json::from_str(&depot_daemon.ready).unwrap();
    let listen = ready["listen"].as_str().unwrap();
    let invite = depot.run(&["invite"]);
    assert!(invite.status.success(), "{}", text(&invite.stderr));
    let laptop = Home::new();
    configure(&laptop, "peers = []", &format!("peers = [\"{listen}\"]"));
    let joined = laptop.run_with(&["join", "-"], &invite.stdout);
    assert!(joined.status.success(), "{}", text(&joined.stderr));
    let laptop_daemon = laptop.serve();
    laptop.drop_file("day.jsonl", note_line("fitted").as_bytes());
    until("the depot knows", || depot.notes() == ["fitted"]);
    depot.drop_file("answer.jsonl", note_line("seen").as_bytes());
    until("the laptop knows", || laptop.notes().len() == 2);
    laptop_daemon.stop();
    depot_daemon.stop();
    assert_eq!(depot.run(&["findings"]).stdout, laptop.run(&["findings"]).stdout);
}

#[test]
fn an_address_that_is_taken_does_not_keep_the_inbox_from_being_read() {
    let taken = TcpListener::bind("127.0.0.1:0").unwrap();
    let depot = depot(&taken.local_addr().unwrap().to_string());
    let daemon = depot.serve();
    depot.drop_file("day.jsonl", note_line("recorded all the same").as_bytes());
    depot.wait_done("day.jsonl");
    assert!(depot.log().contains("cannot listen"), "{}", depot.log());
    drop(taken);
    until("it listens after all", || depot.log().contains("listening for peers"));
    daemon.stop();
}
