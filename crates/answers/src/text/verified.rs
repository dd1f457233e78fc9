//! What verifying found, as text.

use super::layout::counted;
use super::{Page, Piece, Text, line};
use crate::verified::Verified;

impl Text for Verified {
    fn text(&self, _: Page) -> Vec<Piece> {
        let mut out = vec![line(format!(
            "{} chained, {} checked, {} read",
            counted(self.entries, "entry", "entries"),
            counted(self.signatures, "signature", "signatures"),
            counted(self.pictures, "picture", "pictures")
        ))];
        let wrong = self.wrong.iter();
        out.extend(wrong.map(|w| line(format!("wrong: {}: {}", w.place, w.what))));
        if self.wrong.is_empty() {
            out.push(line("everything fits"));
        }
        out
    }
}
