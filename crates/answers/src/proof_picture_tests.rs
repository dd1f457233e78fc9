use super::*;
use crate::small_home::{shown as as_text, through_json};
use crate::small_yard::{SmallYard, record};

/// A picture of one pixel, with something behind it that makes it another one.
fn picture(more: &[u8]) -> Vec<u8> {
    let header = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR\0\0\0\x01\0\0\0\x01\x08\0\0\0\0....IEND\xae\x42\x60\x82";
    [&header[..], more].concat()
}

fn hex(bytes: &[u8]) -> String {
    let hash = PictureHash::of(bytes).to_string();
    hash.strip_prefix("blake3:").unwrap().to_owned()
}

fn judged(job: &str, bytes: &[u8]) -> String {
    let hash = PictureHash::of(bytes);
    format!(
        r#"{{"kind":"proof","job":"{job}","state":"judged","ok":true,"answers":{{"front-wall":true}},"picture":"{hash}","by":"mara"}}"#
    )
}

fn job(job: &str, pair: &str) -> [String; 2] {
    [
        format!(r#"{{"kind":"job","job":"{job}","trailer":"5312","by":"mara"}}"#),
        format!(r#"{{"kind":"link","job":"{job}","camera":"LC-{pair}","tracker":"LT-{pair}","by":"mara"}}"#),
    ]
}

#[test]
fn the_latest_picture_of_the_pair_comes_out_and_the_others_are_listed() {
    let mut yard = SmallYard::new();
    let (first, second) = (picture(b"1"), picture(b"2"));
    for bytes in [&first, &second] {
        yard.mara.pictures().put(bytes).unwrap();
    }
    let [opened, linked] = job("M01", "1");
    record(
        &mut yard.mara,
        &[opened, linked, judged("M01", &first), judged("M01", &second)],
    );
    for given in ["M01", "5312", " 53-12 ", "."] {
        let found = find(&yard.mara, given).unwrap();
        assert_eq!(found.bytes, second, "{given}");
    }
    let found = find(&yard.mara, "M01").unwrap();
    let hash = hex(&second);
    assert_eq!(found.file_name(), format!("M01-{}.png", &hash[..12]));
    let answer = found.written_to("out.png".to_owned());
    let json = through_json(&answer);
    assert_eq!(json["others"][0]["picture"], hex(&first));
    assert_eq!(
        (json["format"].as_str(), json["width"].as_u64()),
        (Some("png"), Some(1))
    );
    let text = as_text(&answer);
    assert!(
        text.starts_with("out.png: PNG, 1 x 1 pixels, ")
            && text.contains(
                "  job M01 on trailer 5312, LC-1 to LT-1: judged good by mara on lap-mara (2026-03-02 12:03)\n"
            )
            && text.contains("  front-wall yes\nAlso judged\n  - "),
        "{text}"
    );
}

#[test]
fn of_a_trailer_the_picture_of_the_pair_that_is_linked_comes_before_a_later_one_of_another() {
    let mut yard = SmallYard::new();
    let (live, gone) = (picture(b"live"), picture(b"gone"));
    for bytes in [&live, &gone] {
        yard.mara.pictures().put(bytes).unwrap();
    }
    let [opened, linked] = job("M01", "1");
    let [opened_again, linked_again] = job("M02", "2");
    record(
        &mut yard.mara,
        &[
            opened,
            linked,
            judged("M01", &live),
            opened_again,
            linked_again,
            judged("M02", &gone),
            r#"{"kind":"unlink","job":"M02","camera":"LC-2","tracker":"LT-2","by":"mara"}"#.to_owned(),
        ],
    );
    assert_eq!(find(&yard.mara, "5312").unwrap().bytes, live);
    let found = find(&yard.mara, "M02").unwrap();
    assert_eq!(found.bytes, gone, "where there is no other one");
    assert!(as_text(&found.written_to("x".to_owned())).contains("of no pair that is linked now"));
}

#[test]
fn what_is_not_here_names_who_held_it() {
    let mut yard = SmallYard::new();
    let bytes = picture(b"");
    yard.mara.pictures().put(&bytes).unwrap();
    let [opened, linked] = job("M01", "1");
    record(&mut yard.mara, &[opened, linked, judged("M01", &bytes)]);
    let hash = PictureHash::of(&bytes);
    std::fs::remove_file(yard.mara.pictures().path(&hash)).unwrap();
    yard.carry_to_depot();
    let refused = find(&yard.depot, "M01").unwrap_err();
    assert!(
        matches!(&refused, ProofPictureError::NotHere { picture, held_by, .. }
            if *picture == hex(&bytes) && held_by == &["lap-mara"]),
        "{refused}"
    );
}

#[test]
fn without_a_judged_picture_there_is_none_and_an_unknown_name_is_refused() {
    let mut yard = SmallYard::new();
    let [opened, linked] = job("M01", "1");
    let silent = r#"{"kind":"proof","job":"M01","state":"judged","ok":true,"by":"mara"}"#.to_owned();
    record(&mut yard.mara, &[opened, linked, silent]);
    assert!(matches!(find(&yard.mara, "M01"), Err(ProofPictureError::NoneJudged(_))));
    assert!(matches!(find(&yard.mara, "9"), Err(ProofPictureError::Answer(_))));
}
