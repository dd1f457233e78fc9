//! The work standard as text.

use super::layout::counted;
use super::{Page, Piece, Text, line};
use crate::standard::{StandardChecked, StandardPublished, StandardShown};

impl Text for StandardShown {
    fn text(&self, _: Page) -> Vec<Piece> {
        let origin = format!("work standard {}, {}", self.contents.standard, self.from);
        // As it is, so that it can be written into a file.
        vec![Piece::Aside(origin), Piece::Out(self.text.clone())]
    }
}

impl Text for StandardChecked {
    fn text(&self, _: Page) -> Vec<Piece> {
        let checks = &self.contents.checks;
        let required = checks.iter().filter(|check| check.required).count();
        vec![line(format!(
            "{}: good. Work standard {}: {}, {required} of them required",
            self.file,
            self.contents.standard,
            counted(checks.len() as u64, "check", "checks"),
        ))]
    }
}

impl Text for StandardPublished {
    fn text(&self, _: Page) -> Vec<Piece> {
        let standard = &self.standard;
        if !self.published {
            return vec![line(format!("work standard {standard} is in force already"))];
        }
        let effect = "Every node that has merged judges by it from then on, also what was recorded before.";
        vec![
            line(format!("published work standard {standard}")),
            Piece::Aside(effect.to_owned()),
        ]
    }
}
