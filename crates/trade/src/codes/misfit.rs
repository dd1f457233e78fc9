//! Why a code does not fit its rule.

/// Why a code does not fit its rule.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Misfit {
    /// A character that the rule has no value for.
    #[error("has '{found}' in place {place}; {allowed}")]
    Character {
        /// The character.
        found: char,
        /// Its place, counted from 1.
        place: usize,
        /// Which characters are allowed.
        allowed: &'static str,
    },
    /// Too short or too long.
    #[error("has {found} characters; {wanted}")]
    Length {
        /// How many it has.
        found: usize,
        /// How many it should have.
        wanted: &'static str,
    },
    /// The check character is another one.
    #[error("has the check character '{found}', but the rest gives '{wanted}'")]
    CheckCharacter {
        /// The character that is there.
        found: char,
        /// The one that the rest gives.
        wanted: char,
    },
    /// One character throughout: a key held down, or a form left blank. Its sum may fit.
    #[error("is the same character throughout, which is no real number although its sum may fit")]
    Repeated,
}

/// Compares the check character that a code has with the one that belongs there.
pub(super) fn same(found: char, wanted: char) -> Result<(), Misfit> {
    if found == wanted {
        Ok(())
    } else {
        Err(Misfit::CheckCharacter { found, wanted })
    }
}
