use super::*;
use std::sync::Arc;

use crate::disk::RealDisk;

fn pictures(dir: &Path) -> Pictures {
    Pictures::new_on(Arc::new(RealDisk), &dir.join("pictures"), 1 << 20)
}

#[test]
fn ranges_make_a_picture_and_survive_a_restart() {
    let dir = tempfile::tempdir().unwrap();
    let bytes: Vec<u8> = (0..300_000u32).map(|n| (n % 251) as u8).collect();
    let hash = PictureHash::of(&bytes);
    let source = pictures(&dir.path().join("a"));
    source.put(&bytes).unwrap();
    let mut at = 0;
    while at < bytes.len() as u64 {
        // Opened anew each time, as after a restart.
        let target = pictures(&dir.path().join("b"));
        std::fs::create_dir_all(dir.path().join("b")).unwrap();
        assert_eq!(target.begun(&hash).unwrap(), at);
        let range = source.range(&hash, at, 65_536).unwrap().unwrap();
        assert_eq!(range.total, bytes.len() as u64);
        assert!(!target.has(&hash), "half a picture is none");
        at = target.extend(&hash, at, &range.bytes).unwrap();
    }
    let target = pictures(&dir.path().join("b"));
    assert!(target.finish(&hash).unwrap());
    assert_eq!(target.get(&hash).unwrap().unwrap(), bytes);
    assert_eq!(target.begun(&hash).unwrap(), 0);
    assert_eq!(target.list().unwrap(), [hash]);
    assert!(source.range(&PictureHash([9; 32]), 0, 10).unwrap().is_none());
}

#[test]
fn what_is_not_what_its_name_says_is_thrown_away() {
    let dir = tempfile::tempdir().unwrap();
    let target = pictures(dir.path());
    let hash = PictureHash::of(b"the right bytes");
    target.extend(&hash, 0, b"the wrong bytes").unwrap();
    assert!(!target.finish(&hash).unwrap());
    assert!(!target.has(&hash) && target.begun(&hash).unwrap() == 0);
    target.extend(&hash, 0, b"half").unwrap();
    assert!(matches!(
        target.extend(&hash, 9, b"x"),
        Err(PictureError::Gap { held: 4, at: 9 })
    ));
    target.abandon(&hash).unwrap();
    assert_eq!(target.begun(&hash).unwrap(), 0);
}

#[test]
fn limit_floor_and_number_of_parts_are_kept() {
    let dir = tempfile::tempdir().unwrap();
    let target = pictures(dir.path());
    let hash = PictureHash([1; 32]);
    assert!(matches!(
        target.extend(&hash, (1 << 20) - 1, b"xy"),
        Err(PictureError::TooLarge { .. })
    ));
    let full = pictures(dir.path()).with_floor(u64::MAX);
    assert!(matches!(full.extend(&hash, 0, b"x"), Err(PictureError::NoRoom { .. })));
    assert_eq!(target.begun(&hash).unwrap(), 0);
    for n in 0..100 {
        target.extend(&PictureHash([n; 32]), 0, b"x").unwrap();
    }
    assert!(std::fs::read_dir(target.parts()).unwrap().count() <= MAX_PARTS);
}

/// A process that is killed may leave a part of any length. None of them keeps the picture from arriving.
#[test]
fn a_part_of_any_length_leads_to_the_picture() {
    let bytes: Vec<u8> = (0..100_000u32).map(|n| (n % 249) as u8).collect();
    let hash = PictureHash::of(&bytes);
    let too_long = [bytes.clone(), vec![0; 1 << 20]].concat();
    let begun_with = |part: &[u8]| {
        let dir = tempfile::tempdir().unwrap();
        let target = pictures(dir.path());
        std::fs::create_dir_all(target.parts()).unwrap();
        std::fs::write(target.part(&hash), part).unwrap();
        let resumed = target.resume(&hash).unwrap();
        assert_eq!(target.resume(&hash).unwrap(), resumed, "asked twice");
        assert_eq!(target.has(&hash), resumed.is_none());
        (resumed, target.part(&hash).exists())
    };
    assert_eq!(
        begun_with(&bytes),
        (None, false),
        "whole: it only had to be put in its place"
    );
    assert_eq!(begun_with(&bytes[..5_000]), (Some(5_000), true));
    assert_eq!(begun_with(&too_long), (Some(0), false));
    // Full but wrong, and a little too long: only the peer can tell.
    assert_eq!(begun_with(&vec![7; bytes.len()]), (Some(100_000), true));
    let dir = tempfile::tempdir().unwrap();
    let target = pictures(dir.path());
    assert_eq!(target.resume(&hash).unwrap(), Some(0));
    target.put(&bytes).unwrap();
    target.extend(&hash, 0, b"left over").unwrap();
    assert_eq!(target.resume(&hash).unwrap(), None);
    assert!(!target.part(&hash).exists());
}
