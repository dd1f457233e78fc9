use std::ffi::OsStr;
use std::time::{Duration, Instant};

use super::files::{FileState, Files, HELD_AT_MOST, SETTLED, holds_facts};
use super::place;
use gladhand_store::Layout;

fn seen(names: &[&str]) -> (tempfile::TempDir, Files) {
    let dir = tempfile::tempdir().unwrap();
    names
        .iter()
        .for_each(|name| std::fs::write(dir.path().join(name), b"x").unwrap());
    let mut files = Files::new(dir.path());
    files.look().unwrap();
    (dir, files)
}

#[test]
fn a_file_is_due_two_seconds_after_its_last_change_and_at_once_after_a_rename() {
    let (dir, mut files) = seen(&["a.jsonl"]);
    let now = Instant::now();
    assert!(files.due_facts(now).is_empty());
    assert_eq!(files.due_facts(now + SETTLED), ["a.jsonl"]);
    std::fs::write(dir.path().join("a.jsonl"), b"longer").unwrap();
    std::thread::sleep(Duration::from_millis(5));
    let changed = Instant::now();
    files.look().unwrap();
    assert!(files.next_due().unwrap() >= changed + SETTLED);
    files.note(OsStr::new("a.jsonl"), true);
    assert_eq!(files.due_facts(Instant::now()), ["a.jsonl"]);
    // The second event of the same rename, and one about its permissions, change nothing.
    files.set(OsStr::new("a.jsonl"), FileState::LeftAlone);
    files.note(OsStr::new("a.jsonl"), true);
    files.note(OsStr::new("a.jsonl"), false);
    assert_eq!(files.next_due(), None);
}

#[test]
fn other_files_are_held_while_facts_wait_and_not_for_ever() {
    let (dir, mut files) = seen(&["a.jsonl", "one.jpg"]);
    let later = Instant::now() + SETTLED;
    assert!(files.due_others(later, true).is_empty());
    assert_eq!(files.due_others(later, false), ["one.jpg"], "the facts are gone");
    assert!(files.due_others(later, true).is_empty());
    let long_after = later + HELD_AT_MOST;
    assert_eq!(files.due_others(long_after, true), ["one.jpg"]);
    assert!(
        files.due_others(long_after, true).is_empty(),
        "held for the same time again"
    );
    drop(dir);
}

#[test]
fn what_fails_is_tried_less_and_less_often() {
    let (_dir, mut files) = seen(&["a.jsonl"]);
    let name = OsStr::new("a.jsonl");
    let now = Instant::now() + SETTLED;
    let mut waits = Vec::new();
    for free in [1000, 900, 800, 700, 600] {
        files.retry(
            name,
            &format!("only {free} bytes are free"),
            now,
            Duration::from_secs(5),
        );
        waits.push(files.next_due().unwrap().saturating_duration_since(now).as_secs());
    }
    assert_eq!(waits, [5, 10, 20, 40, 40]);
    assert_eq!(files.retry(name, "another reason", now, Duration::from_secs(5)), 1);
}

#[test]
fn names_in_done_are_never_taken_twice() {
    let dir = tempfile::tempdir().unwrap();
    let layout = Layout::new(dir.path());
    std::fs::create_dir_all(layout.inbox_done()).unwrap();
    let mut places = Vec::new();
    for name in ["a.jsonl", "a.jsonl", "a.2.jsonl", "a.jsonl", "noending", "noending"] {
        std::fs::write(layout.inbox().join(name), name).unwrap();
        let place = place::to_done(&layout, OsStr::new(name)).unwrap();
        places.push(place.file_name().unwrap().to_string_lossy().into_owned());
    }
    assert_eq!(
        places,
        [
            "a.jsonl",
            "a.2.jsonl",
            "a.2.2.jsonl",
            "a.3.jsonl",
            "noending",
            "noending.2"
        ]
    );
}

#[test]
fn endings() {
    assert!(
        ["a.jsonl", "b.NDJSON", "c.d.csv"]
            .iter()
            .all(|name| holds_facts(OsStr::new(name)))
    );
    assert!(
        !["a.json", "jsonl", "a.jsonl.part", "a.csv~"]
            .iter()
            .any(|name| holds_facts(OsStr::new(name)))
    );
}
