//! The words for questions that cannot be answered.

use gladhand_answers::AnswerError;
use gladhand_answers::advice::quoted;
use gladhand_answers::error::{PictureError, ProofPictureError, ResolveError};
use gladhand_reconcile::rules;

use super::Failure;

impl From<AnswerError> for Failure {
    fn from(error: AnswerError) -> Self {
        match error {
            AnswerError::Resolve(error) => error.into(),
            AnswerError::Node(error) => error.into(),
            error @ AnswerError::Document { .. } => Self::failed(error),
        }
    }
}

impl From<ResolveError> for Failure {
    fn from(error: ResolveError) -> Self {
        let hint = match &error {
            ResolveError::Ambiguous { .. } => "Give more of the name.".to_owned(),
            ResolveError::NoJob(_) => "`gladhand report` lists the jobs; perhaps a bundle is missing.".to_owned(),
            ResolveError::NoJobBut { .. } => "`gladhand job next` lists the open jobs.".to_owned(),
            ResolveError::NoneOpen { trailer, .. } => format!(
                "Give the job's name; or open one on that trailer: gladhand job --trailer {}",
                quoted(trailer)
            ),
            ResolveError::NotRecorded { .. } => {
                "`gladhand report` shows what is recorded; perhaps a bundle is missing.".to_owned()
            }
            ResolveError::NoTracker(_) => "Name it, as on its label; or link it first.".to_owned(),
            ResolveError::NoFact(_) => {
                "`gladhand history` shows the id of each fact: give at least four digits of it.".to_owned()
            }
            ResolveError::NoTrailer(_) => {
                "`gladhand report` lists the trailers; perhaps a bundle is missing.".to_owned()
            }
            ResolveError::NothingTouched => "Name the job; `gladhand job next` lists the open ones.".to_owned(),
            ResolveError::NoFinding(_) => "`gladhand findings` lists them.".to_owned(),
            ResolveError::NoDevice { .. } => "`gladhand status` lists the devices.".to_owned(),
            ResolveError::SeveralDevices(_) => "Give the beginning of the key instead.".to_owned(),
            ResolveError::NoRule(_) => {
                let names: Vec<&str> = rules::ALL.iter().map(|rule| rule.name()).collect();
                format!("The rules: {}", names.join(", "))
            }
            ResolveError::NotAnEntry(_) => {
                "Write DEVICE@SEQ; `gladhand history --device DEVICE` shows the entry numbers.".to_owned()
            }
            ResolveError::NothingOf(_) => "Merge with it first, or with somebody who has.".to_owned(),
            ResolveError::NoEntry { held, .. } => format!("Its entries 1 to {held} are here."),
        };
        let is_moment = matches!(
            error,
            ResolveError::NotAnEntry(_) | ResolveError::NothingOf(_) | ResolveError::NoEntry { .. }
        );
        let flag = if is_moment { "--as-known-by: " } else { "" };
        Self::bad_input(format!("{flag}{error}")).hint(hint)
    }
}

impl From<PictureError> for Failure {
    fn from(error: PictureError) -> Self {
        match error {
            PictureError::TooMany { .. } => {
                Self::bad_input(error).hint("Select a job, a camera, a tracker or a trailer, or an earlier --as-of.")
            }
            PictureError::Node(error) => error.into(),
        }
    }
}

impl From<ProofPictureError> for Failure {
    fn from(error: ProofPictureError) -> Self {
        let hint = match &error {
            ProofPictureError::Answer(_) => None,
            ProofPictureError::NoneJudged(_) => {
                Some("`gladhand proof JOB judged --picture FILE` records one.".to_owned())
            }
            ProofPictureError::NotHere { held_by, .. } => Some(match held_by.as_slice() {
                [] => "`gladhand sync` brings it when somebody has it.".to_owned(),
                [one, ..] => format!(
                    "`gladhand sync {}`, or a bundle of it, brings the picture.",
                    quoted(one)
                ),
            }),
            ProofPictureError::Picture(_) => Some("`gladhand verify` looks through the whole home.".to_owned()),
        };
        match (error, hint) {
            (ProofPictureError::Answer(error), _) => error.into(),
            (error, Some(hint)) => Self::failed(error).hint(hint),
            (error, None) => Self::failed(error),
        }
    }
}
