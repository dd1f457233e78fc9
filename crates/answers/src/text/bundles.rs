//! Bundles as text.

use super::layout::counted;
use super::{Page, Piece, Text, line};
use crate::bundles::{BundleInspected, BundleTaken, BundleWritten, Extent};

impl Text for BundleWritten {
    fn text(&self, _: Page) -> Vec<Piece> {
        let entries = counted(self.entries, "entry", "entries");
        let pictures = counted(self.pictures, "picture", "pictures");
        vec![line(format!(
            "{}: {entries}, {pictures}, {} bytes",
            self.file, self.bytes
        ))]
    }
}

impl Text for BundleTaken {
    fn text(&self, _: Page) -> Vec<Piece> {
        let entries = counted(self.new, "entry", "entries");
        let pictures = counted(self.pictures, "new picture", "new pictures");
        let mut out = vec![line(format!(
            "{}: {entries} new, {} known, {pictures}",
            self.file, self.known
        ))];
        out.extend(self.enrolled.iter().map(|name| line(format!("enrolled {name}"))));
        let refused = self.refused.iter().map(|why| format!("gladhand: refused: {why}"));
        let damaged = self.damaged.iter().map(|why| format!("gladhand: {}: {why}", self.file));
        let advice = advice(self.extent()).map(str::to_owned);
        out.extend(refused.chain(damaged).chain(advice).map(Piece::Warning));
        out
    }
}

fn advice(extent: Extent) -> Option<&'static str> {
    match extent {
        Extent::All => None,
        Extent::Refused => {
            Some("  Nothing was taken. A device joins with an invite of the depot: `gladhand join INVITE`.")
        }
        Extent::Unusable => Some("  Nothing in it could be used. Ask for the bundle again."),
        Extent::Part => {
            Some("  The good part is recorded. Ask for the bundle again: what is known already costs nothing.")
        }
    }
}

impl Text for BundleInspected {
    fn text(&self, _: Page) -> Vec<Piece> {
        let depot = self
            .depot
            .map_or_else(|| "no depot".to_owned(), |depot| format!("depot {}", depot.short()));
        let entries = counted(self.entries, "entry", "entries");
        let writer = self.writer.short();
        let verdict = if self.faults.is_empty() {
            "whole: every part, chain and signature fits"
        } else {
            "not whole"
        };
        let mut out = vec![
            line(format!("{}: {entries}, written by {writer} of {depot}", self.file)),
            line(verdict),
        ];
        let faults = self.faults.iter().map(|why| format!("gladhand: {}: {why}", self.file));
        out.extend(faults.map(Piece::Warning));
        out
    }
}
