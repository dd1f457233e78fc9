//! What a visit to a trailer is for.

/// What a visit is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Purpose {
    /// A pair is taken off, or the camera alone.
    TakeOff,
    /// A new picture, an audit, a repaired wall.
    Prove,
    /// Another camera or tracker in the place of the old one.
    Replace,
    /// A first fit.
    Fit,
}

impl Purpose {
    /// Reads the word of the contract; an unknown one is a fit, of which most is asked.
    pub fn named(word: &str) -> Self {
        match word {
            "take-off" => Self::TakeOff,
            "prove" => Self::Prove,
            "replace" => Self::Replace,
            _ => Self::Fit,
        }
    }

    /// Of several values that nobody has settled the one of which most is asked; without any a fit.
    pub fn strictest<'a>(words: impl IntoIterator<Item = &'a str>) -> Self {
        words.into_iter().map(Self::named).max().unwrap_or(Self::Fit)
    }

    /// The word of the contract.
    pub fn word(self) -> &'static str {
        match self {
            Self::Fit => "fit",
            Self::Replace => "replace",
            Self::TakeOff => "take-off",
            Self::Prove => "prove",
        }
    }

    /// Whether the job is about the pair that earlier jobs on the trailer made.
    pub fn takes_over_the_pair(self) -> bool {
        matches!(self, Self::Prove | Self::TakeOff)
    }

    /// Whether a sign-off wants a live and proven pair.
    pub fn wants_a_pair(self) -> bool {
        self != Self::TakeOff
    }
}
