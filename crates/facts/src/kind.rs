//! The kinds of fact, and the keys that each must carry.
//!
//! A kind that is not listed here is kept too ([`Kind::Other`]): an older version keeps what a newer one wrote, and
//! reports it as not understood.

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
    /// A part, or a trailer with its tracker, belongs to a fleet.
    Stock,
    /// An earlier fact was a slip.
    Withdraw,
    /// A device's clock beside a clock that somebody trusts.
    Clock,
    /// The fleet took the trailer back.
    Handover,
    /// Free text.
    Note,
    /// Settles a finding.
    Ruling,
    /// A kind that this version does not know.
    Other(String),
}

impl Kind {
    /// Reads the written name. Never fails: an unknown name is [`Kind::Other`].
    pub fn parse(name: &str) -> Self {
        match name {
            "job" => Self::Job,
            "scan" => Self::Scan,
            "check" => Self::Check,
            "link" => Self::Link,
            "unlink" => Self::Unlink,
            "settings" => Self::Settings,
            "proof" => Self::Proof,
            "sign-off" => Self::SignOff,
            "stand-down" => Self::StandDown,
            "stock" => Self::Stock,
            "withdraw" => Self::Withdraw,
            "clock" => Self::Clock,
            "handover" => Self::Handover,
            "note" => Self::Note,
            "ruling" => Self::Ruling,
            other => Self::Other(other.to_owned()),
        }
    }

    /// The written names of the kinds that this version understands, in the order of the contract.
    pub fn known_names() -> impl Iterator<Item = &'static str> {
        let names = [
            "job",
            "scan",
            "check",
            "link",
            "unlink",
            "settings",
            "proof",
            "sign-off",
            "stand-down",
            "stock",
            "withdraw",
            "clock",
            "handover",
            "note",
            "ruling",
        ];
        names
            .into_iter()
            .filter(|name| !matches!(Self::parse(name), Self::Other(_)))
    }

    /// The written name.
    pub fn name(&self) -> &str {
        match self {
            Self::Job => "job",
            Self::Scan => "scan",
            Self::Check => "check",
            Self::Link => "link",
            Self::Unlink => "unlink",
            Self::Settings => "settings",
            Self::Proof => "proof",
            Self::SignOff => "sign-off",
            Self::StandDown => "stand-down",
            Self::Stock => "stock",
            Self::Withdraw => "withdraw",
            Self::Clock => "clock",
            Self::Handover => "handover",
            Self::Note => "note",
            Self::Ruling => "ruling",
            Self::Other(name) => name,
        }
    }

    /// Whether this version understands it.
    pub fn is_known(&self) -> bool {
        !matches!(self, Self::Other(_))
    }

    /// The keys that a line of this kind must have.
    pub fn required(&self) -> &'static [&'static str] {
        match self {
            Self::Job | Self::Stock | Self::Note | Self::Other(_) => &[],
            Self::Scan => &["code"],
            Self::Check => &["job", "check"],
            Self::Link | Self::Unlink => &["camera", "tracker"],
            Self::Settings => &["tracker", "state"],
            Self::Proof => &["job", "state"],
            Self::SignOff | Self::StandDown => &["job"],
            Self::Withdraw => &["fact", "why"],
            Self::Clock => &["reference"],
            Self::Handover => &["trailer"],
            Self::Ruling => &["finding", "ruling", "why"],
        }
    }

    /// The closed list of words that `key` may hold in this kind, where there is one.
    pub fn words(&self, key: &str) -> Option<&'static [&'static str]> {
        Some(match (self, key) {
            (Self::Job, "wall") => &["plate", "sheet-and-post"],
            (Self::Job, "load") => &["empty", "loaded"],
            (Self::Job, "purpose") => &["fit", "replace", "take-off", "prove"],
            (Self::Proof, "taken_clock") => &["device", "reference"],
            (Self::Scan, "what") => &["trailer", "tracker", "camera", "other"],
            (Self::Settings, "state") => &["asked", "live", "failed"],
            (Self::Proof, "state") => &["asked", "taken", "judged"],
            (Self::Ruling, "ruling") => &["accepted", "corrected", "void"],
            (_, "clock") => &["device", "reference", "person"],
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
        let names =
            "job scan check link unlink settings proof sign-off stand-down stock withdraw clock handover note ruling";
        for name in names.split(' ') {
            let kind = Kind::parse(name);
            assert!(kind.is_known() && kind.name() == name, "{name}");
        }
        assert_eq!(Kind::parse("weigh-in").name(), "weigh-in");
        assert!(!Kind::parse("weigh-in").is_known());
    }
}
