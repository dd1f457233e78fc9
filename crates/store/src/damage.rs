//! What is damaged, where, what is lost by it, and where the evidence is.

use std::fmt;
use std::path::PathBuf;

use gladhand_facts::LogId;

/// What kind of damage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum DamageKind {
    /// The end of the newest segment is no whole batch: a power cut or a full disk interrupted a write, which most
    /// likely was never acknowledged.
    TornTail,
    /// Bytes that are no batch, before good batches or in a sealed segment.
    Unreadable,
    /// The header of a segment is damaged.
    Header,
    /// A sealed segment ends too early, at the end of a batch.
    CutShort,
    /// A segment file is gone.
    Missing,
    /// One bit was wrong, and the checksums told which: it was put right.
    Repaired,
}

impl DamageKind {
    /// Whether something may be lost by it.
    pub fn may_lose(self) -> bool {
        self != Self::Repaired
    }
}

/// One damaged place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Damage {
    /// What kind.
    pub kind: DamageKind,
    /// The file, with its folder.
    pub file: PathBuf,
    /// Its number.
    pub segment: u32,
    /// Where in the file, as it was found.
    pub offset: u64,
    /// How many bytes; 0 when the bytes are gone.
    pub bytes: u64,
    /// Where a copy of the damaged bytes is. `None` when there were none, or the copy could not be written yet.
    pub evidence: Option<PathBuf>,
    /// The entries that are known to be lost. There may be more: bytes that are gone do not show what they were.
    pub lost: Vec<Lost>,
}

/// Entries that were here, and must be fetched again from a peer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Lost {
    /// Of which log.
    pub log: LogId,
    /// The first lost entry.
    pub from: u64,
    /// The last entry that is known to have been here; `None` when there may have been later ones.
    pub to: Option<u64>,
}

impl fmt::Display for DamageKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::TornTail => "an unfinished write at the end",
            Self::Unreadable => "unreadable bytes",
            Self::Header => "a damaged header",
            Self::CutShort => "the end is missing",
            Self::Missing => "the file is missing",
            Self::Repaired => "one bit was wrong and could be put right: nothing is lost",
        })
    }
}

impl fmt::Display for Lost {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "log {} from entry {}", self.log, self.from)?;
        match self.to {
            Some(to) => write!(f, " to {to}"),
            None => f.write_str(" on"),
        }
    }
}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.file.display(), self.kind)?;
        if self.kind == DamageKind::Repaired {
            write!(f, ", the bit was at offset {}", self.offset)?;
        } else if self.bytes > 0 {
            write!(f, ", {} bytes at offset {}", self.bytes, self.offset)?;
        }
        if let Some(evidence) = &self.evidence {
            write!(f, ", kept in {}", evidence.display())?;
        }
        self.lost.iter().try_for_each(|lost| write!(f, "; lost: {lost}"))
    }
}
