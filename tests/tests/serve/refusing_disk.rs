//! On a full disk and on one that takes no writes, everything that is there can still be asked, and `status` says first that
//! nothing can be recorded.

use gladhand_tests::Home;

use crate::small_disk::SmallDisk;

/// A home with a finding, whose index must be made anew: a disk that refuses cannot take it.
fn home_on(disk: &SmallDisk) -> Home {
    let home = Home::laptop(disk.path().join("home"), "mara", "mara").quiet();
    home.good("job J1 --trailer LF5301");
    home.good("job J2 --trailer LF5302");
    home.good("link LC-1 LT-1 --job J1");
    home.good("link LC-1 LT-2 --job J2");
    std::fs::remove_dir_all(home.file("index")).unwrap();
    home
}

fn answers(home: &Home, why: &str) {
    let first = home.good("status").out.lines().next().unwrap().to_owned();
    assert!(first.starts_with(&format!("Nothing can be recorded: {why}")), "{first}");
    assert!(home.good("findings").reads("camera-on-two-trackers"));
    assert!(home.good("history --camera LC-1").reads("LT-2"));
    let refused = home.run("note more").exits(1);
    assert!(!refused.tells("Os {"), "{refused}");
}

#[test]
fn a_full_disk_is_asked_as_before() {
    let Some(disk) = SmallDisk::mount(120) else {
        eprintln!("not shown here: no small disk can be mounted");
        return;
    };
    let home = home_on(&disk);
    let ballast = disk.fill();
    answers(&home, "the disk is full; make room for");
    let daemon = home.serve();
    answers(&home, "the disk is full; make room for");
    std::fs::remove_file(ballast).unwrap();
    // As soon as there is room, the same daemon records.
    home.good("note more");
    assert!(home.good("status").out.starts_with("Missing here"));
    daemon.stop();
    home.good("verify");
}

#[test]
fn a_disk_that_takes_no_writes_is_asked_as_before() {
    let Some(disk) = SmallDisk::mount(120) else {
        eprintln!("not shown here: no small disk can be mounted");
        return;
    };
    let home = home_on(&disk);
    if !disk.make_read_only() {
        eprintln!("not shown here: a disk cannot be made read-only");
        return;
    }
    answers(&home, "the disk takes no writes");
}
