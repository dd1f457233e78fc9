//! Exported documents, as text.

use super::layout::counted;
use super::{Page, Piece, Text, line};
use crate::exported::{Exported, LIST, LeftOut};

impl Text for Exported {
    fn text(&self, _: Page) -> Vec<Piece> {
        let mut out: Vec<Piece> = self.left_out.iter().map(warning).collect();
        out.push(line(format!(
            "{}: {}, listed in {LIST}",
            self.folder,
            counted(self.documents.len() as u64, "document", "documents")
        )));
        out
    }
}

fn warning(LeftOut { job, log, seq, why }: &LeftOut) -> Piece {
    Piece::Warning(format!(
        "gladhand: job {job}: entry {seq} of log {log} was left out: {why}"
    ))
}
