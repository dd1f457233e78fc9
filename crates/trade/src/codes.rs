//! Check characters: what the numbers and letters on a label must add up to.
//!
//! The work standard names the rule that a fleet's trackers and cameras follow, or `none`. A code that fails is a question
//! to a person, never a refusal: labels get retyped, and a foreign VIN may have anything in its ninth place. A check
//! character catches typing mistakes, not forgeries, and not every mistake either; each rule's module says which ones it
//! misses.

pub mod code39;
mod digits;
pub mod gs1;
pub mod imei;
pub mod iso7064;
pub mod luhn;
mod misfit;
pub mod vin;

pub use misfit::Misfit;

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

/// The rules with their names in the work standard.
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
        /// What is wrong, as words to put after the code.
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
        match self {
            Self::None => "none",
            Self::Luhn => "luhn",
            Self::Imei => "imei",
            Self::Gs1 => "gs1",
            Self::Code39Mod43 => "code39-mod43",
            Self::Iso7064Mod37And36 => "iso7064-mod37-36",
            Self::Vin => "vin",
        }
    }

    /// Checks a whole code, including its check character. Blanks around it do not matter.
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

#[cfg(test)]
#[path = "codes_tests.rs"]
mod tests;
