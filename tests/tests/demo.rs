//! The demo is the first that anybody sees: one screen, the day's own time, the same story each time, everything on request.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::process::{Command, Stdio};

use gladhand_tests::normal::normal;
use gladhand_tests::process::gladhand;
use gladhand_tests::{Home, Ran};

/// How many lines one screen has.
const SCREEN: usize = 60;

fn demo(args: &[&str]) -> Ran {
    let mut command = Command::new(gladhand());
    command.arg("demo").args(args).stdin(Stdio::null());
    command.env_remove("RUST_LOG").env_remove("RUST_BACKTRACE");
    let output = command.output().expect("the binary starts");
    Ran::of(Ran::line_of(&command), output).done()
}

/// Everything that stands on the screen afterwards.
fn screen(ran: &Ran) -> String {
    format!("{}{}", ran.out, ran.err)
}

/// Today and the days beside it, wherever the machine stands; the demo may run over midnight. Not the story's own days: a clock
/// may show one of these.
fn days_of_the_run() -> Vec<String> {
    let now_us = gladhand_node::environment::now_us();
    let day_us = 86_400_000_000;
    let date = |us: i64| gladhand_facts::Moment::from_unix_us(us, 0).date().to_owned();
    let days = [-1, 0, 1].map(|days| date(now_us + days * day_us));
    days.into_iter().filter(|day| !day.starts_with("2026-03-0")).collect()
}

#[test]
fn the_story_is_short_and_the_same_each_time() {
    let (first, second) = (screen(&demo(&[])), screen(&demo(&[])));
    assert_eq!(normal(&first), normal(&second));
    assert!(first.lines().count() <= SCREEN, "{first}");
    assert!(first.lines().all(|line| line.chars().count() <= 100), "{first}");
    for told in [
        "stop  camera-on-two-trackers    LC-P9D0K5X   nobody could have known",
        "laptop-mara and harrow-street show the same 14 findings, byte for byte.",
        "47 of 60 jobs can be relied on. The other 13:",
        "LF 5322  0302-T15  -           no         signed-without-link",
        "1984 facts on four devices, 13 bundles, 14 findings: just those that this day was made to hold.",
    ] {
        assert!(first.contains(told), "no `{told}` in:\n{first}");
    }
}

#[test]
fn the_whole_story_has_every_command_finding_and_report_line() {
    let (first, second) = (screen(&demo(&["--all"])), screen(&demo(&["--all"])));
    assert_eq!(normal(&first), normal(&second));
    for told in [
        "  $ gladhand --home laptop-tomas record data/04-tomas-afternoon.jsonl",
        "Camera LC-P9D0K5X is linked to trackers LT765406210 by mara on laptop-mara (2026-03-02 16:41)",
        "neither device had seen the other's",
        "‖ 10-17",
        "harrow-street from its entry 3 on (2026-03-03 02:00)",
        "60 jobs: 47 can be relied on, 7 not, 4 to be looked at, 2 not finished.",
        "Open findings",
    ] {
        assert!(first.contains(told), "no `{told}` in:\n{first}");
    }
    let jobs = first.lines().filter(|line| line.starts_with("0302-")).count();
    assert_eq!(jobs, 60, "report lines");
}

/// Whatever a node stamps or fills in by itself is of the day, also in what the story does not show.
#[test]
fn no_line_is_of_the_day_on_which_it_is_run() {
    let dir = tempfile::tempdir().unwrap();
    let kept = dir.path().join("day");
    let mut texts = vec![screen(&demo(&[])), screen(&demo(&["--all", kept.to_str().unwrap()]))];
    let depot = Home::at(kept.join("harrow-street"));
    for args in [
        ["history", "--json"].as_slice(),
        &["history", "--device", "laptop-mara"],
        &["findings", "--json"],
        &["report", "--format", "json"],
        &["status", "--json"],
    ] {
        texts.push(screen(&depot.run(args).done()));
    }
    let today = days_of_the_run();
    for line in texts.iter().flat_map(|text| text.lines()) {
        assert!(!today.iter().any(|day| line.contains(day.as_str())), "{line}");
    }
}
