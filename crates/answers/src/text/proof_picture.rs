//! A picture that was taken out of the home, for reading.

use super::deed::deed;
use super::layout::SEVERAL;
use super::{Page, Piece, Text};
use crate::proof_picture::{JudgedPicture, ProofPicture};

impl Text for ProofPicture {
    fn text(&self, page: Page) -> Vec<Piece> {
        let mut out = page.wrapped(&file(self), "");
        out.push_str(&page.wrapped(&judged(&self.judged), "  "));
        if !self.judged.answers.is_empty() {
            out.push_str(&page.wrapped(&answers(&self.judged), "  "));
        }
        if !self.others.is_empty() {
            out.push_str("Also judged\n");
        }
        for other in &self.others {
            let hash: String = other.picture.chars().take(12).collect();
            out.push_str(&page.bullet(&format!("{hash}, {}", judged(other))));
        }
        vec![Piece::Out(out)]
    }
}

/// `J1-0fb2c1.png: PNG, 640 x 480 pixels, 12345 bytes, blake3:0fb2c1…`
fn file(picture: &ProofPicture) -> String {
    let format = picture.format.map_or("of no known format", |format| format.words());
    let size = match (picture.width, picture.height) {
        (Some(width), Some(height)) => format!(", {width} x {height} pixels"),
        _ => String::new(),
    };
    format!(
        "{}: {format}{size}, {} bytes, blake3:{}",
        picture.file, picture.bytes, picture.judged.picture
    )
}

/// `job J1 on trailer LF5396, LC-1 to LT-1: judged good by mara on lap-1 (2026-03-02 10:12)`
fn judged(picture: &JudgedPicture) -> String {
    let trailer = match picture.trailer.as_slice() {
        [] => String::new(),
        several => format!(" on trailer {}", several.join(SEVERAL)),
    };
    let pair = match (picture.camera.as_slice(), picture.tracker.as_slice()) {
        ([], _) | (_, []) => ", of no pair that is linked now".to_owned(),
        (cameras, trackers) => format!(", {} to {}", cameras.join(SEVERAL), trackers.join(SEVERAL)),
    };
    let word = match picture.ok {
        Some(true) => "judged good",
        Some(false) => "judged not good",
        None => "judged without a word whether it is good",
    };
    let taken = picture
        .taken_at
        .as_ref()
        .map_or(String::new(), |at| format!("; taken at {at}"));
    format!(
        "job {}{trailer}{pair}: {word} by {}{taken}",
        picture.job,
        deed(&picture.by)
    )
}

fn answers(picture: &JudgedPicture) -> String {
    let word = |yes: bool| if yes { "yes" } else { "no" };
    let each = picture
        .answers
        .iter()
        .map(|(name, yes)| format!("{name} {}", word(*yes)));
    each.collect::<Vec<_>>().join(", ")
}
