//! Check characters: what the numbers and letters on a label must add up to.
//!
//! Which rule a fleet's trackers and cameras follow stands in the work standard, `none` unless it says so. A code
//! that fails is a question to a person, never a refusal: labels get retyped, and a foreign VIN may carry anything
//! in its ninth place. A check character catches slips, not lies, and not every slip either; each rule's module
//! says which ones pass unseen.

pub mod code39;
pub mod gs1;
pub mod imei;
pub mod iso7064;
pub mod luhn;
pub mod vin;

/// A rule by which a code is checked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum CodeRule {
    /// No rule: every code is taken as it is.
    None,
    /// Luhn, ISO/IEC 7812-1 annex B.
    Luhn,
    /// IMEI, 3GPP TS 23.003 annex B.
    Imei,
    /// GS1 General Specifications, modulo 10 (GTIN, SSCC and the other numeric keys).
    Gs1,
    /// Code 39, modulo 43.
    Code39Mod43,
    /// ISO/IEC 7064 MOD 37,36.
    Iso7064Mod37And36,
    /// Vehicle identification number, 49 CFR 565.15.
    Vin,
}

/// The names by which the work standard writes the rules.
pub const RULES: [(&str, CodeRule); 7] = [
    ("none", CodeRule::None),
    ("luhn", CodeRule::Luhn),
    ("imei", CodeRule::Imei),
    ("gs1", CodeRule::Gs1),
    ("code39-mod43", CodeRule::Code39Mod43),
    ("iso7064-mod37-36", CodeRule::Iso7064Mod37And36),
    ("vin", CodeRule::Vin),
];

/// What a rule says of a code.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CodeVerdict {
    /// The check character fits.
    Fits,
    /// It does not.
    Fails {
        /// What is wrong, in a few words that follow the code.
        why: String,
    },
    /// There is no rule for this code, or no code.
    NotApplicable,
}

impl CodeRule {
    /// Reads the name of a rule.
    pub fn parse(name: &str) -> Option<Self> {
        RULES.iter().find(|(n, _)| *n == name).map(|(_, rule)| *rule)
    }

    /// Its name.
    pub fn name(self) -> &'static str {
        RULES
            .iter()
            .find(|(_, rule)| *rule == self)
            .map_or("none", |(name, _)| name)
    }

    /// Checks a whole code, check character included. Blanks around it do not matter.
    pub fn check(self, code: &str) -> CodeVerdict {
        let code = code.trim();
        let outcome = match self {
            _ if code.is_empty() => return CodeVerdict::NotApplicable,
            Self::None => return CodeVerdict::NotApplicable,
            Self::Luhn => luhn::check(code),
            Self::Imei => imei::check(code),
            Self::Gs1 => gs1::check(code),
            Self::Code39Mod43 => code39::check(code),
            Self::Iso7064Mod37And36 => iso7064::check(code),
            Self::Vin => vin::check(code),
        };
        match outcome {
            Ok(()) => CodeVerdict::Fits,
            Err(misfit) => CodeVerdict::Fails {
                why: misfit.to_string(),
            },
        }
    }
}

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
        /// What may stand there.
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
        /// What stands there.
        found: char,
        /// What the rest gives.
        wanted: char,
    },
    /// One character repeated: a key held down or a blank form, although the sum may fit.
    #[error("is the same character throughout, which is no real number although its sum may fit")]
    Repeated,
}

/// The decimal digits of a code; blanks and hyphens that group them are passed over.
pub(crate) fn digits(code: &str) -> Result<Vec<u32>, Misfit> {
    let grouped = code.chars().enumerate().filter(|(_, c)| !matches!(c, ' ' | '-'));
    grouped
        .map(|(i, found)| {
            found.to_digit(10).ok_or(Misfit::Character {
                found,
                place: i + 1,
                allowed: "only digits belong there",
            })
        })
        .collect()
}

/// Compares the last digit with what `rule` makes of the others.
pub(crate) fn check_last_digit(digits: &[u32], rule: impl Fn(&[u32]) -> u32) -> Result<(), Misfit> {
    let Some((found, body)) = digits.split_last().filter(|(_, body)| !body.is_empty()) else {
        return Err(Misfit::Length {
            found: digits.len(),
            wanted: "a code and its check digit have at least 2",
        });
    };
    same(digit_char(*found), digit_char(rule(body)))
}

pub(crate) fn same(found: char, wanted: char) -> Result<(), Misfit> {
    if found == wanted {
        Ok(())
    } else {
        Err(Misfit::CheckCharacter { found, wanted })
    }
}

/// The character of a digit; everything that comes here is below ten.
pub(crate) fn digit_char(digit: u32) -> char {
    char::from_digit(digit % 10, 10).unwrap_or('0')
}

#[cfg(test)]
#[path = "codes_tests.rs"]
mod tests;
