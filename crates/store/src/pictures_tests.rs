//! Pictures come back as they were, or say that they are not.

use super::*;
use crate::testing::{Crash, Faults, FaultyDisk, MemoryDisk};

const DIR: &str = "/home/pictures";

fn on(disk: Arc<dyn Disk>) -> Pictures {
    disk.create_dir(Path::new(DIR)).unwrap();
    Pictures::new_on(disk, Path::new(DIR), 1000)
}

#[test]
fn a_picture_comes_back_by_its_name() {
    let disk = MemoryDisk::new();
    let pictures = on(Arc::new(disk.clone()));
    let hash = pictures.put(b"the front wall").unwrap();
    assert_eq!(pictures.put(b"the front wall").unwrap(), hash, "twice is once");
    assert!(pictures.has(&hash));
    assert_eq!(pictures.get(&hash).unwrap().as_deref(), Some(&b"the front wall"[..]));
    assert_eq!(pictures.list().unwrap(), [hash]);
    assert_eq!(disk.paths().len(), 1);
    assert!(
        pictures
            .path(&hash)
            .starts_with(Path::new(DIR).join(&hash.to_string()[7..9]))
    );

    let other = PictureHash::of(b"another");
    assert!(!pictures.has(&other));
    assert_eq!(pictures.get(&other).unwrap(), None);
    let gone = on(Arc::new(disk.after(Crash::PowerKeepsNothing)));
    assert!(gone.get(&hash).unwrap().is_some(), "durable once it is acknowledged");
}

#[test]
fn names_are_written_as_facts_write_them() {
    let hash = PictureHash::of(b"");
    // BLAKE3 of nothing, from the test vectors published with the BLAKE3 specification (value from memory).
    let text = "blake3:af1349b9f5f9a1a6a0404dea36dcc9499bcb25c9adc112b7cc9a93cae41f3262";
    assert_eq!(hash.to_string(), text);
    assert_eq!(text.parse(), Ok(hash));
    for bad in ["af1349", "blake3:xyz", "", "sha256:00"] {
        assert!(bad.parse::<PictureHash>().is_err(), "{bad}");
    }
}

#[test]
fn a_damaged_picture_says_so_and_is_mended_by_the_same_one() {
    let disk = MemoryDisk::new();
    let pictures = on(Arc::new(disk.clone()));
    let hash = pictures.put(b"before the hole was cut").unwrap();
    let path = pictures.path(&hash);
    let good = disk.bytes(&path).unwrap();
    let damages: [Vec<u8>; 4] = [
        vec![],
        good[..5].to_vec(),
        [good.clone(), vec![0; 2000]].concat(),
        good.iter().rev().copied().collect(),
    ];
    for bytes in damages {
        disk.put(&path, Some(bytes));
        assert!(matches!(pictures.get(&hash), Err(PictureError::Damaged { file }) if file == path));
        assert_eq!(pictures.verify().unwrap(), [hash]);
        pictures.put(&good).unwrap();
        assert_eq!(pictures.verify().unwrap(), []);
    }
}

#[test]
fn too_large_is_refused() {
    let pictures = on(Arc::new(MemoryDisk::new()));
    assert!(pictures.put(&[1; 1000]).is_ok());
    assert!(matches!(
        pictures.put(&[1; 1001]),
        Err(PictureError::TooLarge { bytes: 1001, max: 1000 })
    ));
}

#[test]
fn killed_at_any_call_a_picture_is_whole_or_not_there() {
    for call in 1.. {
        let memory = MemoryDisk::new();
        let faulty = FaultyDisk::over(Arc::new(memory.clone()));
        let pictures = on(Arc::new(faulty.clone()));
        faulty.set(Faults::kill_at(call));
        let acknowledged = pictures.put(&[7; 900]).is_ok();
        for crash in [Crash::Process, Crash::PowerKeepsNothing, Crash::PowerKeepsSome(call)] {
            let left = on(Arc::new(memory.after(crash)));
            let found = left.get(&PictureHash::of(&[7; 900])).unwrap();
            assert!(found.is_some() || !acknowledged, "killed at {call}, {crash:?}");
            assert_eq!(left.verify().unwrap(), []);
            left.put(&[7; 900]).unwrap();
        }
        if !faulty.is_killed() {
            break;
        }
    }
}
