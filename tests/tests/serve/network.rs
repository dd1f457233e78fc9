//! Daemons that meet: what falls into one inbox is seen on the other machine, without anybody asking.

use std::net::TcpListener;

use gladhand_tests::process::{Daemon, TempHome, until};

use crate::note_line;

#[test]
fn a_fact_in_a_laptops_inbox_is_at_the_depot_within_moments() {
    let depot = TempHome::depot("127.0.0.1:0");
    let depot_daemon = Daemon::start(&mut depot.command("--json serve"));
    let ready: serde_json::Value = serde_json::from_str(&depot_daemon.ready).unwrap();
    let listen = ready["listen"].as_str().unwrap();
    let invite = depot.good("invite").out;
    let laptop = TempHome::laptop();
    laptop.configure("peers = []", &format!("peers = [\"{listen}\"]"));
    laptop.feed("join -", invite).done();
    let laptop_daemon = laptop.serve();
    laptop.drop_file("day.jsonl", note_line("fitted"));
    until("the depot knows", || depot.notes() == ["fitted"]);
    depot.drop_file("answer.jsonl", note_line("seen"));
    until("the laptop knows", || laptop.notes().len() == 2);
    laptop_daemon.stop();
    depot_daemon.stop();
    assert_eq!(depot.run("findings").out, laptop.run("findings").out);
}

#[test]
fn an_address_that_is_taken_does_not_keep_the_inbox_from_being_read() {
    let taken = TcpListener::bind("127.0.0.1:0").unwrap();
    let depot = TempHome::depot(&taken.local_addr().unwrap().to_string());
    let daemon = depot.serve();
    depot.drop_file("day.jsonl", note_line("recorded all the same"));
    depot.wait_done("day.jsonl");
    assert!(depot.log().contains("cannot listen"), "{}", depot.log());
    drop(taken);
    until("it listens after all", || depot.log().contains("listening for peers"));
    daemon.stop();
}
