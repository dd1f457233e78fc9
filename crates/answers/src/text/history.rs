//! A history as text: a table, what it cannot say, and the findings that were asked for.

mod fields;
pub(crate) mod rows;

use super::findings::{finding, tally};
use super::layout::counted;
use super::{Page, Piece, Text, line};
use crate::history::{History, HistoryScope, KnownMoment, Picture};
use rows::{Rows, in_brackets};

/// How many open findings are named above a history.
const OPEN_NAMED: usize = 20;

impl Text for History {
    fn text(&self, page: Page) -> Vec<Piece> {
        let mut pieces = self.warnings(page);
        if let Some(picture) = &self.picture {
            pieces.push(line(drawn(picture)));
            return pieces;
        }
        pieces.extend(self.open_findings());
        pieces.extend(self.told(page));
        pieces.extend(self.left_open());
        pieces.extend(self.found(page));
        pieces
    }

    fn warnings(&self, _: Page) -> Vec<Piece> {
        let is_unknown = self.rows.is_empty() && self.is_restricted();
        let unknown = is_unknown.then(|| "nothing is known about that".to_owned());
        let known_by = self.as_known_by.as_ref().map(moment);
        unknown.into_iter().chain(known_by).map(Piece::Warning).collect()
    }
}

impl History {
    fn is_restricted(&self) -> bool {
        self.scope != HistoryScope::default() || self.as_of.is_some() || self.findings.is_some()
    }

    /// Whether each row names what is concurrent with it.
    fn is_full(&self) -> bool {
        self.rows.iter().all(|row| row.concurrent_with.is_some())
    }

    /// The open findings that touch it, a line each: what stands below them is not the whole truth yet.
    fn open_findings(&self) -> Vec<Piece> {
        if self.findings.is_some() || self.open.is_empty() {
            return Vec::new();
        }
        let each = self.open.iter().take(OPEN_NAMED).map(|f| {
            let subject = f.subject.to_string();
            line(format!("{:<4}  {}  {}  {subject}", f.severity.word(), f.id, f.rule))
        });
        let more = self.open.len().saturating_sub(OPEN_NAMED);
        let more = (more > 0).then(|| line(format!("and {more} more open: `gladhand findings --open`")));
        each.chain(more).chain([line("")]).collect()
    }

    /// The table, and what it cannot say.
    fn told(&self, page: Page) -> Vec<Piece> {
        let numbers: Rows = (1..).zip(&self.rows).map(|(number, row)| (row.id, number)).collect();
        let mut said = Vec::new();
        if !self.rows.is_empty() {
            said.push(rows::table(&self.rows, &numbers));
        }
        if self.is_full() {
            said.push(rows::seen(&self.rows));
            said.push(fields::told(&self.rows, &numbers));
        }
        let clocks = rows::clocks(&self.rows);
        said.extend(
            clocks
                .iter()
                .map(|sentence| format!("\n{}", page.wrapped(sentence, ""))),
        );
        said.retain(|text| !text.is_empty());
        said.into_iter().map(Piece::Out).collect()
    }

    /// What the reader of the table must know of it.
    fn left_open(&self) -> Vec<Piece> {
        let mut asides = Vec::new();
        let marked = self.rows.iter().filter(|row| row.concurrent > 0).count() as u64;
        if marked > 0 {
            let what = if self.is_full() {
                "‖ names the rows"
            } else {
                "‖ marks facts"
            };
            asides.push(format!(
                "{what} that a recorder did not know of, and the other way round ({} in all)",
                counted(marked, "row", "rows")
            ));
        }
        if let Some(time) = self.as_of.as_ref().filter(|_| self.perhaps_too > 0) {
            let count = counted(self.perhaps_too, "more fact", "more facts");
            asides.push(format!(
                "{count} may have happened by {time} as well: the clocks leave it open"
            ));
        }
        asides.into_iter().map(Piece::Aside).collect()
    }

    /// The findings, if they were asked for.
    fn found(&self, page: Page) -> Vec<Piece> {
        let Some(findings) = &self.findings else {
            return Vec::new();
        };
        let head = match self.as_known_by {
            Some(_) => "\nFindings that it would have shown:",
            None => "\nFindings:",
        };
        let head = (!findings.is_empty()).then(|| line(head));
        let each = findings.iter().map(|f| Piece::Out(finding(f, page)));
        head.into_iter()
            .chain(each)
            .chain([Piece::Aside(tally(findings))])
            .collect()
    }
}

/// Whose knowledge this is, in a sentence.
pub fn moment(moment: &KnownMoment) -> String {
    let at = in_brackets(moment.at.as_deref());
    let newest = if moment.newest { ", the newest that is here" } else { "" };
    let missing = match moment.missing {
        0 => String::new(),
        missing => format!(" {missing} of the entries that it had are not here."),
    };
    format!(
        "As {} knew it right after its entry {}{at}{newest}. What it took in later stands in its next entry.{missing}",
        moment.device, moment.entry
    )
}

/// What was drawn, in a line.
pub fn drawn(picture: &Picture) -> String {
    format!(
        "{}: {}, {}, {}, {}",
        picture.file,
        counted(picture.facts, "fact", "facts"),
        counted(picture.lanes, "lane", "lanes"),
        counted(picture.meetings, "meeting", "meetings"),
        counted(picture.open_findings, "open finding", "open findings"),
    )
}
