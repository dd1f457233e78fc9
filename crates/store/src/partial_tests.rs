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
