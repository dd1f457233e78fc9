//! A home is whole or not there, has one owner at a time, and knows when it is a copy.

use std::fs::{self, Permissions};
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::path::PathBuf;
use std::process::Command;
use std::sync::Arc;

use super::*;
use crate::testing::{Faults, FaultyDisk};

const SEED: [u8; 32] = [0x5a; 32];
const MACHINE: &str = "yard laptop";

fn create(path: &Path) -> Home {
    Home::create(path, &SEED, "name = \"Tolland\"\n", MACHINE).unwrap()
}

fn folder() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("home");
    (folder, path)
}

fn copy_tree(from: &Path, to: &Path) {
    assert!(
        Command::new("cp")
            .arg("-a")
            .arg(from)
            .arg(to)
            .status()
            .unwrap()
            .success()
    );
}

#[test]
fn a_home_is_made_and_opened_again() {
    let (_folder, path) = folder();
    let home = create(&path);
    assert_eq!(home.key_seed(), &SEED);
    assert_eq!(home.layout().config_text().unwrap(), "name = \"Tolland\"\n");
    assert!(!home.is_copy() && !home.key_is_exposed());
    let mode = |file: PathBuf| fs::metadata(file).unwrap().mode() & 0o777;
    assert_eq!((mode(home.layout().key()), mode(path.clone())), (0o600, 0o700));
    assert_eq!(fs::read_to_string(path.join("format")).unwrap(), "gladhand-home 1\n");
    for dir in ["log", "index", "evidence", "pictures", "inbox/done", "inbox/rejected"] {
        assert!(path.join(dir).is_dir(), "{dir}");
    }
    drop(home);
    fs::remove_dir(path.join("inbox/done")).unwrap();
    let home = Home::open(&path, MACHINE).unwrap();
    assert_eq!(home.key_seed(), &SEED);
    assert!(
        home.layout().inbox_done().is_dir(),
        "a folder that is gone is made again"
    );
}

#[test]
fn a_home_has_one_owner_at_a_time() {
    let (_folder, path) = folder();
    let home = create(&path);
    let refused = Home::open(&path, MACHINE).unwrap_err();
    let me = std::process::id();
    assert!(
        matches!(refused, OpenHomeError::Locked { pid: Some(pid), .. } if pid == me),
        "{refused}"
    );
    assert!(refused.to_string().contains(&me.to_string()));
    drop(home);
    Home::open(&path, MACHINE).unwrap();
}

#[test]
fn what_exists_is_not_touched() {
    let (folder, path) = folder();
    fs::create_dir(&path).unwrap();
    drop(create(&path));
    let again = Home::create(&path, &[1; 32], "", MACHINE).unwrap_err();
    assert!(matches!(again, CreateError::Exists(_)), "{again}");
    assert_eq!(Home::open(&path, MACHINE).unwrap().key_seed(), &SEED);
    let file = folder.path().join("file");
    fs::write(&file, "mine").unwrap();
    assert!(matches!(
        Home::create(&file, &SEED, "", MACHINE),
        Err(CreateError::Exists(_))
    ));
    assert!(matches!(
        Home::create(Path::new("/"), &SEED, "", MACHINE),
        Err(CreateError::BadName(_))
    ));
    let left: Vec<_> = fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    assert_eq!(left.len(), 2, "nothing half-made is left: {left:?}");
}

#[test]
fn folders_above_are_made() {
    let (folder, _) = folder();
    create(&folder.path().join("a/b/home"));
}

#[test]
fn a_home_that_is_not_there_is_missing() {
    let (folder, path) = folder();
    assert!(matches!(Home::open(&path, MACHINE), Err(OpenHomeError::Missing(_))));
    assert!(matches!(
        Home::open(folder.path(), MACHINE),
        Err(OpenHomeError::Missing(_))
    ));
    let left = fs::read_dir(folder.path()).unwrap().count();
    assert_eq!(left, 0, "looking makes nothing");
}

#[test]
fn a_later_format_is_refused() {
    let (_folder, path) = folder();
    drop(create(&path));
    fs::write(path.join("format"), "gladhand-home 2\n").unwrap();
    let refused = Home::open(&path, MACHINE).unwrap_err();
    assert!(
        matches!(refused, OpenHomeError::TooNew { found: 2, known: 1, .. }),
        "{refused}"
    );
}

#[test]
fn a_corrupted_format_or_key_is_refused_by_the_name_of_the_file() {
    let (_folder, path) = folder();
    drop(create(&path));
    for name in ["format", "key"] {
        let file = path.join(name);
        let good = fs::read(&file).unwrap();
        let mut cases: Vec<Vec<u8>> = (0..good.len() - 1).map(|len| good[..len].to_vec()).collect();
        for at in 0..good.len() - 1 {
            for mask in [0x01, 0x04, 0x80, 0xff] {
                let mut bytes = good.clone();
                bytes[at] ^= mask;
                cases.push(bytes);
            }
            let mut swapped = good.clone();
            swapped.swap(at, at / 2);
            cases.push(swapped);
        }
        cases.extend([vec![0; good.len()], good.repeat(2), vec![b'a'; 1 << 21]]);
        for bytes in cases.into_iter().filter(|bytes| *bytes != good) {
            fs::write(&file, &bytes).unwrap();
            match Home::open(&path, MACHINE) {
                Err(OpenHomeError::Damaged { file: named, .. }) => assert_eq!(named, file),
                // A flipped digit can make it look newer.
                Err(OpenHomeError::TooNew { .. }) if name == "format" => {}
                other => panic!("{name} as {:?}: {other:?}", String::from_utf8_lossy(&bytes)),
            }
        }
        fs::remove_file(&file).unwrap();
        let gone = Home::open(&path, MACHINE).unwrap_err();
        assert!(
            matches!(&gone, OpenHomeError::Damaged { file: named, .. } if *named == file),
            "{gone}"
        );
        fs::write(&file, &good).unwrap();
    }
    fs::set_permissions(path.join("key"), Permissions::from_mode(0o644)).unwrap();
    assert!(Home::open(&path, MACHINE).unwrap().key_is_exposed());
}

#[test]
fn renamed_is_the_same_and_copied_is_not() {
    let (folder, path) = folder();
    drop(create(&path));
    let (moved, copied) = (folder.path().join("moved"), folder.path().join("copied"));
    fs::rename(&path, &moved).unwrap();
    assert!(!Home::open(&moved, MACHINE).unwrap().is_copy(), "renamed");
    assert!(
        Home::open(&moved, "another machine").unwrap().is_copy(),
        "on another machine"
    );

    copy_tree(&moved, &copied);
    assert!(
        !Home::open(&moved, MACHINE).unwrap().is_copy(),
        "the one that was copied"
    );
    let mut home = Home::open(&copied, MACHINE).unwrap();
    assert!(home.is_copy(), "the copy");
    home.settle_as(1).unwrap();
    assert!(!home.is_copy());
    drop(home);
    assert!(!Home::open(&copied, MACHINE).unwrap().is_copy(), "settled");

    // Restored over itself from a backup: other files under the same names.
    fs::rename(&copied, folder.path().join("backup")).unwrap();
    copy_tree(&folder.path().join("backup"), &copied);
    assert!(Home::open(&copied, MACHINE).unwrap().is_copy(), "restored");
}

#[test]
fn a_mark_in_doubt_is_a_copy() {
    let (_folder, path) = folder();
    drop(create(&path));
    let file = path.join("mark");
    let good = fs::read(&file).unwrap();
    for at in 0..good.len() - 1 {
        let mut bytes = good.clone();
        // In place: the inode stays.
        bytes[at] ^= 0x02;
        fs::write(&file, &bytes).unwrap();
        let home = Home::open(&path, MACHINE).unwrap();
        assert!(home.is_copy() && home.mark_was_damaged(), "byte {at}");
        drop(home);
        fs::write(&file, &good[..at]).unwrap();
        assert!(Home::open(&path, MACHINE).unwrap().is_copy(), "cut to {at}");
    }
    fs::write(&file, &good).unwrap();
    assert!(!Home::open(&path, MACHINE).unwrap().is_copy());
    fs::remove_file(&file).unwrap();
    let mut home = Home::open(&path, MACHINE).unwrap();
    assert!(home.is_copy());
    home.settle_as(1).unwrap();
    assert!(!home.is_copy());
}

#[test]
fn the_log_that_a_home_writes_and_why_it_needs_another_are_remembered() {
    let (folder, path) = folder();
    let mut home = create(&path);
    assert_eq!((home.writes(), home.unsettled()), (Some(1), None));
    home.settle_as(0x1_27a0_66e4).unwrap();
    drop(home);
    assert_eq!(Home::open(&path, MACHINE).unwrap().writes(), Some(0x1_27a0_66e4));
    for at in [None, Some(17)] {
        let due = Unsettled {
            at,
            why: "a clone\nwrites".to_owned(),
        };
        let mut home = Home::open(&path, MACHINE).unwrap();
        home.unsettle(0x1_27a0_66e4, due).unwrap();
        drop(home);
        let home = Home::open(&path, MACHINE).unwrap();
        let due = home.unsettled().unwrap();
        assert_eq!((due.at, due.why.as_str()), (at, "a clone writes"));
        assert!(!home.is_copy());
        drop(home);
        let copied = folder.path().join(format!("copied-{}", at.is_some()));
        copy_tree(&path, &copied);
        let copy = Home::open(&copied, MACHINE).unwrap();
        assert!(copy.is_copy());
        assert_eq!((copy.writes(), copy.unsettled().unwrap().at), (Some(0x1_27a0_66e4), at));
    }
}

#[test]
fn a_mark_of_the_first_kind_still_reads() {
    let (_folder, path) = folder();
    drop(create(&path));
    let file = path.join("mark");
    let text = fs::read_to_string(&file).unwrap();
    let old = ["machine", "device", "filesystem", "inode"];
    let lines = text
        .lines()
        .filter(|line| old.iter().any(|name| line.starts_with(name)));
    fs::write(&file, lines.map(|line| format!("{line}\n")).collect::<String>()).unwrap();
    let mut home = Home::open(&path, MACHINE).unwrap();
    assert!(!home.is_copy() && !home.mark_was_damaged());
    assert_eq!(home.writes(), None);
    home.settle_as(1).unwrap();
    assert_eq!(fs::read_to_string(&file).unwrap().lines().count(), text.lines().count());
}

/// File systems give the number of a file that is gone to the next one: a restored home may have the very inode of the lost one.
#[test]
fn a_home_restored_onto_the_same_inode_is_a_copy() {
    let (folder, path) = folder();
    drop(create(&path));
    if fs::metadata(&path).unwrap().created().is_err() {
        return; // Without times of birth the inode is all there is.
    }
    let backup = folder.path().join("backup");
    copy_tree(&path, &backup);
    let file = path.join("mark");
    let before = fs::metadata(&file).unwrap().ino();
    let mut reused = 0;
    for _ in 0..200 {
        fs::remove_file(&file).unwrap();
        copy_tree(&backup.join("mark"), &file);
        reused += usize::from(fs::metadata(&file).unwrap().ino() == before);
        assert!(Home::open(&path, MACHINE).unwrap().is_copy(), "restored");
        if reused > 2 {
            break;
        }
    }
    println!("the inode was used again {reused} times");
}

#[test]
fn setup_stopped_at_any_call_leaves_a_whole_home_or_none() {
    for faults in [Faults::once as fn(u64) -> Faults, Faults::from, Faults::kill_at] {
        let mut stopped = 0;
        for call in 1.. {
            let (folder, path) = folder();
            let faulty = FaultyDisk::over(Arc::new(RealDisk));
            faulty.set(faults(call));
            let made = create::create(&faulty, &path, &SEED, "", MACHINE);
            if made.is_ok() {
                Home::open(&path, MACHINE).unwrap();
                // A call whose failure does no harm, or none left to fail.
                if faulty.calls() < call {
                    break;
                }
                continue;
            }
            stopped += 1;
            assert!(!path.exists(), "stopped at call {call}");
            // What a kill would leave, since this process lived on and cleared up.
            let half = folder.path().join(".home.half-made");
            fs::create_dir(&half).unwrap();
            fs::write(half.join("key"), "half").unwrap();
            create(&path);
            assert!(!half.exists());
        }
        assert!(stopped > 10);
    }
}
