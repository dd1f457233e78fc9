//! What went wrong, as a sentence for people, with a hint and an exit code.
//!
//! Libraries have error enums; they become sentences only here. Scripts rely on the exit codes.

mod answer_errors;
mod node_errors;

use std::fmt;

/// The exit codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Done.
    Done = 0,
    /// Failed.
    Failed = 1,
    /// Wrong usage or bad input.
    BadInput = 2,
    /// Open `stop` findings, asked for with `--gate`.
    OpenStops = 3,
    /// Some of the input was rejected.
    SomeRejected = 4,
    /// A peer cannot be reached.
    Unreachable = 5,
    /// Refused: not enrolled.
    Refused = 6,
}

impl Exit {
    /// The exit code of this number. An unknown one is a failure.
    pub fn from_code(code: u8) -> Self {
        let all = [
            Self::Done,
            Self::BadInput,
            Self::OpenStops,
            Self::SomeRejected,
            Self::Unreachable,
            Self::Refused,
        ];
        all.into_iter().find(|exit| *exit as u8 == code).unwrap_or(Self::Failed)
    }
}

/// Why a command did not do what it was asked to.
#[derive(Debug)]
pub struct Failure {
    /// The exit code.
    pub exit: Exit,
    /// What, and where.
    pub what: String,
    /// What to do about it.
    pub hint: Option<String>,
    /// Nothing was done yet, because a daemon has opened the home meanwhile: the command is to be handed to it.
    pub is_served: bool,
}

impl Failure {
    fn new(exit: Exit, what: &dyn fmt::Display) -> Self {
        Self {
            exit,
            what: what.to_string(),
            hint: None,
            is_served: false,
        }
    }

    /// Something failed on this side: disk, permissions, damage.
    pub fn failed(what: impl fmt::Display) -> Self {
        Self::new(Exit::Failed, &what)
    }

    /// What was asked for cannot be.
    pub fn bad_input(what: impl fmt::Display) -> Self {
        Self::new(Exit::BadInput, &what)
    }

    /// Not enrolled, or not by our depot.
    pub fn refused(what: impl fmt::Display) -> Self {
        Self::new(Exit::Refused, &what)
    }

    /// The peer cannot be reached.
    pub fn unreachable(what: impl fmt::Display) -> Self {
        Self::new(Exit::Unreachable, &what)
    }

    /// Adds what to do about it.
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "gladhand: {}", self.what)?;
        match &self.hint {
            Some(hint) => write!(f, "\n  {hint}"),
            None => Ok(()),
        }
    }
}

impl From<std::io::Error> for Failure {
    fn from(e: std::io::Error) -> Self {
        Self::failed(e)
    }
}

/// What a command comes to.
pub type Outcome = Result<Exit, Failure>;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exit_codes_come_back_from_their_numbers() {
        for code in 0..=6 {
            assert_eq!(Exit::from_code(code) as u8, code);
        }
        assert_eq!(Exit::from_code(101), Exit::Failed);
    }
}
