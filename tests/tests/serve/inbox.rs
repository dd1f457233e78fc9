//! The inbox of a real daemon: what is dropped becomes facts, once, and nothing is lost on the way.

use std::fs::File;
use std::io::Write;
use std::time::{Duration, Instant};

use gladhand_tests::Home;
use gladhand_tests::process::{TempHome, names, until};

use crate::note_line;
use crate::small_disk::SmallDisk;

/// How long a file that is not renamed into place has to be left alone.
const SETTLED: Duration = Duration::from_secs(2);

#[test]
fn a_file_renamed_into_place_is_read_at_once_good_lines_and_bad_ones() {
    let home = TempHome::laptop();
    let daemon = home.serve();
    let mut day = note_line("first").into_bytes();
    day.extend_from_slice(b"{broken\n\n{\"kind\":\"note\",\"text\":\"\xff\"}\n{\"kind\":\"check\",\"job\":\"J1\"}\n");
    day.extend_from_slice(note_line("last").as_bytes());
    home.drop_file("day.jsonl", &day);
    home.wait_done("day.jsonl");
    assert_eq!(home.notes(), ["first", "last"]);
    assert_eq!(std::fs::read(home.inbox().join("done/day.jsonl")).unwrap(), day);
    let rejected = home.rejected("day.jsonl");
    let lines: Vec<_> = rejected.iter().map(|r| r["line"].as_u64().unwrap()).collect();
    assert_eq!(lines, [2, 4, 5]);
    assert_eq!(rejected[0]["text"], "{broken");
    assert!(rejected[1]["reason"].as_str().unwrap().contains("not UTF-8"));
    assert!(rejected[2]["reason"].as_str().unwrap().contains("check"));
    daemon.stop();
}

#[test]
fn csv_and_other_endings() {
    let home = TempHome::laptop();
    let daemon = home.serve();
    home.drop_file(
        "a.csv",
        b"kind,text,at\nnote,from csv,2026-03-02T08:00:00Z\nnote,too,many,cells\n",
    );
    home.drop_file("b.NDJSON", note_line("from ndjson"));
    home.wait_done("a.csv");
    home.wait_done("b.NDJSON");
    let mut notes = home.notes();
    notes.sort();
    assert_eq!(notes, ["from csv", "from ndjson"]);
    assert_eq!(home.rejected("a.csv")[0]["line"], 3);
    daemon.stop();
}

/// Writes rows for longer than a finished file would be left alone, and pauses each time in the middle of a row that would
/// read as a whole one. Returns when the last was written; `None` when this process itself stood still for too long.
fn write_slowly(home: &Home, name: &str) -> Option<(String, Instant)> {
    let mut file = File::create(home.inbox().join(name)).unwrap();
    let (begun, mut last, mut paused) = (Instant::now(), Instant::now(), Duration::ZERO);
    let mut write = |bytes: String| {
        file.write_all(bytes.as_bytes()).unwrap();
        paused = paused.max(last.elapsed());
        last = Instant::now();
        std::thread::sleep(Duration::from_millis(100));
        paused
    };
    write("kind,job,check,value,unit,at\n".into());
    for n in 0..16 {
        write(format!("check,{name} {n},placement-top,1"));
        if write(".5,in,2026-03-02T08:00:00Z\n".into()) > SETTLED / 2 {
            return None;
        }
        assert!(!home.is_done(name));
    }
    assert!(begun.elapsed() > SETTLED);
    Some((name.to_owned(), last))
}

#[test]
fn a_slow_writer_is_waited_for() {
    let home = TempHome::laptop();
    let daemon = home.serve();
    // Where the machine itself paused for two seconds, the writer was not slow but gone; then it is shown again.
    let (name, last) = (0..12)
        .find_map(|n| write_slowly(&home, &format!("slow{n}.csv")))
        .expect("a machine that does not pause");
    home.wait_done(&name);
    assert!(last.elapsed() > SETTLED - Duration::from_millis(200));
    let history = home.good(&["history", "--json"]).json();
    let values: Vec<_> = history["rows"]
        .as_array()
        .unwrap()
        .iter()
        .map(|line| line["fact"]["value"].clone())
        .collect();
    assert_eq!(
        values,
        vec![serde_json::json!(1.5); 16],
        "no half row was taken for a whole one"
    );
    daemon.stop();
}

#[test]
fn a_file_dropped_twice_adds_nothing() {
    let home = TempHome::laptop();
    let daemon = home.serve();
    let day = [note_line("a"), note_line("b")].concat();
    home.drop_file("day.jsonl", &day);
    home.wait_done("day.jsonl");
    home.drop_file("day.jsonl", &day);
    home.wait_done("day.2.jsonl");
    let more = [day, note_line("c")].concat();
    home.drop_file("day.jsonl", more);
    home.wait_done("day.3.jsonl");
    daemon.stop();
    assert_eq!(home.notes(), ["a", "b", "c"]);
    let done = names(&home.inbox().join("done"));
    assert_eq!(
        done,
        ["day.2.jsonl", "day.2.jsonl.note.txt", "day.3.jsonl", "day.jsonl"]
    );
    assert!(
        home.log().contains("0 facts recorded, 2 recorded before"),
        "{}",
        home.log()
    );
}

#[test]
fn the_same_rejected_lines_are_kept_once_and_others_beside_them() {
    let home = TempHome::laptop();
    let daemon = home.serve();
    for (bytes, done) in [("bad\n", "x.jsonl"), ("bad\n", "x.2.jsonl"), ("worse\n", "x.3.jsonl")] {
        home.drop_file("x.jsonl", bytes);
        home.wait_done(done);
    }
    let rejected = names(&home.inbox().join("rejected"));
    assert_eq!(rejected.len(), 2, "{rejected:?}");
    daemon.stop();
}

#[test]
fn a_line_of_fifty_megabytes_is_rejected_and_takes_little_memory() {
    let home = TempHome::laptop();
    let daemon = home.serve();
    let mut big = note_line("before").into_bytes();
    big.extend(std::iter::repeat_n(b'x', 50 << 20));
    big.push(b'\n');
    big.extend_from_slice(note_line("after").as_bytes());
    home.drop_file("big.jsonl", &big);
    home.wait_done("big.jsonl");
    let mut table = b"kind,text\nnote,before\nnote,".to_vec();
    table.extend(std::iter::repeat_n(b'x', 50 << 20));
    table.extend_from_slice(b"\nnote,after too\n");
    home.drop_file("big.csv", &table);
    home.wait_done("big.csv");
    assert_eq!(home.notes(), ["before", "after", "before", "after too"]);
    for name in ["big.jsonl", "big.csv"] {
        let rejected = home.rejected(name);
        assert_eq!(rejected.len(), 1);
        assert!(rejected[0]["reason"].as_str().unwrap().contains("at most"));
    }
    let status = std::fs::read_to_string(format!("/proc/{}/status", daemon.id())).unwrap_or_default();
    let peak = status.lines().find_map(|line| {
        line.strip_prefix("VmHWM:")?
            .trim()
            .strip_suffix(" kB")?
            .parse::<u64>()
            .ok()
    });
    assert!(peak.is_none_or(|peak_kib| peak_kib < 100 << 10), "{peak:?} KiB");
    daemon.stop();
}

#[test]
fn what_was_there_before_the_daemon_is_read_in_the_order_of_its_making() {
    let home = TempHome::laptop();
    std::fs::write(home.inbox().join("z.jsonl"), note_line("older")).unwrap();
    let older = std::time::SystemTime::now() - Duration::from_secs(3_600);
    File::options()
        .append(true)
        .open(home.inbox().join("z.jsonl"))
        .unwrap()
        .set_modified(older)
        .unwrap();
    std::fs::write(home.inbox().join("a.jsonl"), note_line("newer")).unwrap();
    let daemon = home.serve();
    home.wait_done("z.jsonl");
    home.wait_done("a.jsonl");
    assert_eq!(home.notes(), ["older", "newer"]);
    daemon.stop();
}

#[test]
fn other_files_are_left_alone_and_reported_once() {
    let home = TempHome::laptop();
    let daemon = home.serve();
    home.drop_file("readme.txt", b"please read");
    home.drop_file(".hidden.jsonl", note_line("somebody's temporary file"));
    std::fs::create_dir(home.inbox().join("folder.jsonl")).unwrap();
    std::os::unix::fs::symlink("/etc/hostname", home.inbox().join("link.jsonl")).unwrap();
    until("it is reported", || home.log().contains("readme.txt is left alone"));
    // Each drop makes the inbox look again.
    for n in 0..3 {
        home.drop_file(&format!("{n}.jsonl"), note_line(&format!("{n}")).as_bytes());
        home.wait_done(&format!("{n}.jsonl"));
    }
    daemon.stop();
    assert_eq!(home.log().matches("readme.txt").count(), 1, "{}", home.log());
    let left = [
        ".hidden.jsonl",
        "done",
        "folder.jsonl",
        "link.jsonl",
        "readme.txt",
        "rejected",
    ];
    assert_eq!(names(&home.inbox()), left);
    assert_eq!(home.notes(), ["0", "1", "2"]);
}

#[test]
fn an_inbox_that_was_moved_away_is_made_anew() {
    let home = TempHome::laptop();
    std::fs::remove_dir_all(home.inbox()).unwrap();
    let daemon = home.serve();
    until("it is there", || home.inbox().join("done").is_dir());
    home.drop_file("day.jsonl", note_line("a"));
    home.wait_done("day.jsonl");
    // Also while the daemon runs.
    std::fs::rename(home.inbox(), home.file("moved-away")).unwrap();
    until("it is there again", || home.inbox().join("rejected").is_dir());
    home.drop_file("more.jsonl", note_line("b"));
    home.wait_done("more.jsonl");
    assert_eq!(home.notes(), ["a", "b"]);
    daemon.stop();
}

#[test]
fn kills_at_any_moment_lose_nothing_and_add_nothing_twice() {
    let home = TempHome::laptop();
    let facts_a_file = 40;
    let file = |n: u64| {
        (0..facts_a_file)
            .map(|f| note_line(&format!("{n}.{f}")))
            .collect::<String>()
            + "not json\n"
    };
    let mut dropped = 0;
    // A small linear congruential generator: the moments vary, and are the same in every run.
    let mut seed = 20_260_302u64;
    for _ in 0..25 {
        let daemon = home.serve();
        for _ in 0..4 {
            home.drop_file(&format!("{dropped}.jsonl"), file(dropped));
            dropped += 1;
        }
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        std::thread::sleep(Duration::from_micros((seed >> 33) % 60_000));
        daemon.kill_9();
    }
    let daemon = home.serve();
    (0..dropped).for_each(|n| home.wait_done(&format!("{n}.jsonl")));
    daemon.stop();
    let mut notes = home.notes();
    notes.sort();
    let mut expected: Vec<String> = (0..dropped)
        .flat_map(|n| (0..facts_a_file).map(move |f| format!("{n}.{f}")))
        .collect();
    expected.sort();
    assert_eq!(notes.len(), expected.len());
    assert_eq!(notes, expected);
    for n in 0..dropped {
        assert_eq!(home.rejected(&format!("{n}.jsonl")).len(), 1, "file {n}");
        assert_eq!(
            std::fs::read_to_string(home.inbox().join(format!("done/{n}.jsonl"))).unwrap(),
            file(n)
        );
    }
    home.good("verify");
}

#[test]
fn a_full_disk_makes_files_wait_and_nothing_else() {
    let Some(disk) = SmallDisk::mount(120) else {
        eprintln!("not shown here: no small disk can be mounted");
        return;
    };
    // Once by the floor that is kept free, and once without one, to the last byte.
    for floor_mib in [64, 0] {
        let home = Home::laptop(disk.path().join(format!("home{floor_mib}")), "mara", "mara").quiet();
        home.configure("disk-floor-mib = 64", &format!("disk-floor-mib = {floor_mib}"));
        let daemon = home.serve();
        home.drop_file("before.jsonl", note_line("before"));
        home.wait_done("before.jsonl");
        let many: String = (0..3_000)
            .map(|n| note_line(&format!("when it was full {n}")))
            .collect();
        let coming = home.file("full.coming");
        std::fs::write(&coming, many).unwrap();
        let ballast = disk.path().join("ballast");
        let mut file = File::create(&ballast).unwrap();
        while file.write_all(&[0; 4096]).is_ok() {}
        drop(file);
        std::fs::rename(coming, home.inbox().join("full.jsonl")).unwrap();
        until("it is reported", || daemon.log().contains("full.jsonl waits"));
        home.run("note refused").exits(1).says(&["Free some space"]);
        assert!(!home.is_done("full.jsonl"));
        std::fs::remove_file(&ballast).unwrap();
        home.wait_done("full.jsonl");
        let told = daemon.log().matches("full.jsonl waits").count();
        assert_eq!(told, 1, "told once");
        daemon.stop();
        let notes = home.notes();
        assert_eq!((notes.len(), notes[0].as_str()), (3_001, "before"));
    }
}
