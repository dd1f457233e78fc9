//! What the device notes with a fact when it records it, besides the time and the person: what it held of the picture that a proof
//! names, and what the finding that a ruling settles is about.
//!
//! Deliberately shallow: whether the bytes begin and end as a picture does. What a picture shows is for people.
//!
//! Invariant: a note refuses nothing. What cannot be read is noted as not there.

use gladhand_facts::{Fact, Kind};
use gladhand_reconcile::subject::RULED_ON;
use serde_json::{Map, Value};

use crate::error::NodeError;
use crate::node::Node;
use crate::picture;

/// Where it is noted what was held of the picture: `readable`, `unreadable` or `absent`.
const PICTURE_HELD: &str = "picture_held";

impl Node {
    /// Notes what belongs to `fact`.
    pub(crate) fn note(&self, fact: &mut Fact) -> Result<(), NodeError> {
        match fact.kind() {
            Kind::Proof if fact.text("picture").is_some() => {
                let held = self.held(fact);
                fact.fill(PICTURE_HELD, held);
            }
            Kind::Ruling => {
                let finding = fact.text("finding").unwrap_or_default().into_owned();
                if let Some(subject) = self.subject_of(&finding)? {
                    let mut about = Map::new();
                    about.insert(subject.class().name().to_owned(), Value::from(subject.text().as_ref()));
                    fact.fill(RULED_ON, about);
                }
            }
            _ => {}
        }
        Ok(())
    }

    fn held(&self, fact: &Fact) -> &'static str {
        let bytes = picture::named(fact).and_then(|hash| self.pictures().get(&hash).ok().flatten());
        match bytes {
            None => "absent",
            Some(bytes) if is_whole_picture(&bytes) => "readable",
            Some(_) => "unreadable",
        }
    }
}

/// Whether the bytes begin and end as a JPEG, PNG or WebP file does.
fn is_whole_picture(bytes: &[u8]) -> bool {
    // Cameras pad the end of a JPEG; what is cut in half has no end mark at all.
    let tail = bytes.get(bytes.len().saturating_sub(4_096)..).unwrap_or_default();
    let ends_with = |mark: &[u8]| tail.windows(mark.len()).any(|window| window == mark);
    let is_jpeg = bytes.starts_with(&[0xff, 0xd8, 0xff]) && bytes.len() > 4 && ends_with(&[0xff, 0xd9]);
    let is_png = bytes.starts_with(b"\x89PNG\r\n\x1a\n") && ends_with(b"IEND");
    let length = bytes.get(4..8).and_then(|n| n.try_into().ok()).map(u32::from_le_bytes);
    let is_webp = bytes.starts_with(b"RIFF")
        && bytes.get(8..12) == Some(b"WEBP")
        && length.is_some_and(|n| (n as usize).saturating_add(8) <= bytes.len());
    is_jpeg || is_png || is_webp
}

#[cfg(test)]
mod tests {
    use super::is_whole_picture;

    #[test]
    fn what_begins_and_ends_as_a_picture_is_one() {
        let jpeg = [&[0xff, 0xd8, 0xff, 0xe0][..], &[7; 9_000], &[0xff, 0xd9, 0, 0]].concat();
        assert!(is_whole_picture(&jpeg));
        assert!(!is_whole_picture(&jpeg[..5_000]), "half a picture");
        assert!(is_whole_picture(b"\x89PNG\r\n\x1a\n....IEND\xae\x42\x60\x82"));
        assert!(is_whole_picture(b"RIFF\x04\0\0\0WEBP"));
        assert!(!is_whole_picture(b"RIFF\x40\0\0\0WEBP"));
        for other in [&b""[..], b"<html></html>", b"\xff\xd8\xff"] {
            assert!(!is_whole_picture(other));
        }
    }
}
