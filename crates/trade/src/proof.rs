//! Which answers the proof picture of a visit must have.
//!
//! One list stands for every visit that wants a picture; tables under it give another list where they apply, such as for
//! loaded trailers, whose freight hides the front wall. Of several tables that apply the first counts.
//!
//! Not here: whether a judgement gives these answers.

use crate::requirement::{Applies, Visit};
use crate::section::{Section, StandardError};

/// The lists of answers.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ProofAnswers {
    /// Which visits want a picture at all.
    applies: Applies,
    answers: Vec<String>,
    instead: Vec<(Applies, Vec<String>)>,
}

impl ProofAnswers {
    pub(crate) fn read(section: &Section<'_>) -> Result<Self, StandardError> {
        section.only(&["answers", "purpose", "instead"])?;
        let instead = section.sections("instead")?;
        Ok(Self {
            applies: Applies::read(section)?,
            answers: read_answers(section)?,
            instead: instead.iter().map(read_instead).collect::<Result<_, _>>()?,
        })
    }

    /// The list where no other is given.
    pub(crate) fn answers(&self) -> &[String] {
        &self.answers
    }

    /// The list for such a visit; empty where it wants no picture.
    pub(crate) fn answers_for(&self, visit: Visit<'_>) -> &[String] {
        if !self.applies.holds(visit) {
            return &[];
        }
        let other = self.instead.iter().find(|(applies, _)| applies.holds(visit));
        other.map_or(&self.answers, |(_, answers)| answers)
    }
}

fn read_instead(section: &Section<'_>) -> Result<(Applies, Vec<String>), StandardError> {
    section.only(&["purpose", "wall", "load", "answers"])?;
    Ok((Applies::read(section)?, read_answers(section)?))
}

fn read_answers(section: &Section<'_>) -> Result<Vec<String>, StandardError> {
    match section.texts("answers")? {
        list if list.is_empty() => Err(section.missing("answers", "list the answers that must all be yes")),
        list => Ok(list),
    }
}

#[cfg(test)]
#[path = "proof_tests.rs"]
mod tests;
