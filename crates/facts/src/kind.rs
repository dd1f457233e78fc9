//! The kinds of fact, and the keys that each must carry.
//!
//! A kind that is not listed here is carried all the same ([`Kind::Other`]): an older version keeps what a
//! newer one wrote and reports it as not understood.

use std::fmt;

/// What a fact says.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// Opens a job, or sets fields of it.
    Job,
    /// A label was read.
    Scan,
    /// A measured or observed check.
    Check,
    /// A camera was tied to a tracker.
    Link,
    /// The tie was taken off.
    Unlink,
    /// A tracker was sent, took, or refused its settings.
    Settings,
    /// The test picture.
    Proof,
    /// The job is declared done.
    SignOff,
    /// The job is given up.
    StandDown,
    /// A part belongs to a fleet.
    Stock,
    /// Free text.
    Note,
    /// Settles a finding.
    Ruling,
    /// A kind that this version does not know.
    Other(String),
}

/// The kinds that are known, with their written names, in the order of the contract.
const NAMES: [(Kind, &str); 12] = [
    (Kind::Job, "job"),
    (Kind::Scan, "scan"),
    (Kind::Check, "check"),
    (Kind::Link, "link"),
    (Kind::Unlink, "unlink"),
    (Kind::Settings, "settings"),
    (Kind::Proof, "proof"),
    (Kind::SignOff, "sign-off"),
    (Kind::StandDown, "stand-down"),
    (Kind::Stock, "stock"),
    (Kind::Note, "note"),
    (Kind::Ruling, "ruling"),
];

impl Kind {
    /// Reads the written name. Never fails: an unknown name is [`Kind::Other`].
    pub fn parse(name: &str) -> Self {
        NAMES
            .iter()
            .find(|(_, n)| *n == name)
            .map_or_else(|| Self::Other(name.to_owned()), |(kind, _)| kind.clone())
    }

    /// The written names of the kinds that this version understands, in the order of the contract.
    pub fn known_names() -> impl Iterator<Item = &'static str> {
        NAMES.iter().map(|(_, name)| *name)
    }

    /// The written name.
    pub fn name(&self) -> &str {
        match self {
            Self::Other(name) => name,
            known => NAMES
                .iter()
                .find(|(kind, _)| kind == known)
                .map_or("", |(_, name)| name),
        }
    }

    /// Whether this version understands it.
    pub fn is_known(&self) -> bool {
        !matches!(self, Self::Other(_))
    }

    /// The keys without which a line of this kind says nothing.
    pub fn required(&self) -> &'static [&'static str] {
        match self {
            Self::Job | Self::Stock | Self::Note | Self::Other(_) => &[],
            Self::Scan => &["code"],
            Self::Check => &["job", "check"],
            Self::Link | Self::Unlink => &["camera", "tracker"],
            Self::Settings => &["tracker", "state"],
            Self::Proof => &["job", "state"],
            Self::SignOff | Self::StandDown => &["job"],
            Self::Ruling => &["finding", "ruling"],
        }
    }

    /// The words that `key` may hold in this kind, where it is a closed list.
    pub fn words(&self, key: &str) -> Option<&'static [&'static str]> {
        Some(match (self, key) {
            (Self::Job, "wall") => &["plate", "sheet-and-post"],
            (Self::Job, "load") => &["empty", "loaded"],
            (Self::Scan, "what") => &["trailer", "tracker", "camera", "other"],
            (Self::Settings, "state") => &["asked", "live", "failed"],
            (Self::Proof, "state") => &["asked", "taken", "judged"],
            (Self::Ruling, "ruling") => &["accepted", "corrected", "void"],
            (_, "clock") => &["device", "reference"],
            _ => return None,
        })
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_survive() {
        for (kind, name) in NAMES {
            assert_eq!((Kind::parse(name), kind.name()), (kind.clone(), name));
        }
        assert_eq!(Kind::parse("weigh-in").name(), "weigh-in");
        assert!(!Kind::parse("weigh-in").is_known());
    }
}
