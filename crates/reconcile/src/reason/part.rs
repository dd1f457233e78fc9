//! Reasons about cameras, trackers and their codes.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::reason::fact_ref::{FactRef, PairRef};
use crate::reason::knowledge::Knowledge;
use crate::subject::Subject;

/// A part is, or was, linked to several others at once.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct DoubleLink {
    /// The links that clash.
    pub links: Vec<LinkTo>,
    /// Whether the recorders of the links could have known.
    pub knowledge: Knowledge,
}

/// A link, seen from one of its ends.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct LinkTo {
    /// The code at the other end.
    pub code: String,
    /// The link.
    pub link: FactRef,
}

/// Linked parts are in stock for another fleet than the job's.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct ForeignParts {
    /// The fleets that the job was for.
    pub fleets: Vec<String>,
    /// The parts.
    pub parts: Vec<ForeignPart>,
    /// Whether the recorders of link, stock entry and fleet could have known.
    pub knowledge: Knowledge,
}

/// A linked part and the fleets that own it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct ForeignPart {
    /// The camera or tracker.
    pub part: Subject,
    /// Its code as the link has it.
    pub code: String,
    /// The link of the job that names it.
    pub link: FactRef,
    /// The fleets that the stock list has it for.
    pub owners: BTreeSet<String>,
}

/// A code is probably misread.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct SuspectCode {
    /// The facts that use the code in the first of the roles in doubt.
    pub used_by: Vec<FactRef>,
    /// Why it is in doubt in each role; at least one.
    pub doubts: Vec<CodeDoubt>,
    /// Whether the recorders of uses and stock entries could have known.
    pub knowledge: Knowledge,
    /// What put it right; empty while it is in doubt.
    pub resolved_by: Vec<FactRef>,
}

/// Why a code is in doubt in one role.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct CodeDoubt {
    /// What the code is used as.
    pub role: CodeRole,
    /// Why it is in doubt.
    pub suspicion: Suspicion,
}

/// What a code can be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum CodeRole {
    Camera,
    Tracker,
    Vin,
}

impl CodeRole {
    /// All of them, in the order in which they are judged.
    pub const ALL: [Self; 3] = [Self::Camera, Self::Tracker, Self::Vin];

    /// The key under which a fact carries such a code.
    pub fn key(self) -> &'static str {
        match self {
            Self::Camera => "camera",
            Self::Tracker => "tracker",
            Self::Vin => "vin",
        }
    }
}

/// Why a code is in doubt.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Suspicion {
    /// It fails its check character.
    CheckCharacter {
        /// What the trade says is wrong with it.
        why: String,
    },
    /// It is not in the stock list, and these codes one edit away are.
    NearListed(BTreeSet<String>),
}

/// A tracker is linked in jobs on different trailers.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct SharedTracker {
    /// The links that clash.
    pub uses: Vec<TrackerUse>,
    /// Whether the recorders of the links could have known.
    pub knowledge: Knowledge,
}

/// A link of a tracker, with the trailers of its job.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct TrackerUse {
    /// The trailers, by their keys.
    pub trailers: BTreeSet<String>,
    /// The camera at the other end.
    pub camera: String,
    /// The link.
    pub link: FactRef,
}

/// Two trackers are linked in jobs on one trailer.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct TwoPairs {
    /// The live links.
    pub links: Vec<PairRef>,
    /// Whether the recorders of the links could have known.
    pub knowledge: Knowledge,
}

/// The lists give the trailer another tracker.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct UnlistedTracker {
    /// The trailers of the job.
    pub trailers: Vec<String>,
    /// What the lists say.
    pub listed: Vec<ListedTracker>,
    /// The live links of other trackers.
    pub linked: Vec<PairRef>,
    /// Whether the recorders of list and link could have known.
    pub knowledge: Knowledge,
}

/// What a list says of a trailer.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct ListedTracker {
    /// The tracker.
    pub tracker: String,
    /// The entry.
    pub entry: FactRef,
}

/// A linked code that no list of its sort has.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct UnknownPart {
    /// What it is linked as.
    pub role: CodeRole,
    /// The live links.
    pub links: Vec<FactRef>,
    /// The entries that list it as something else.
    pub listed_otherwise: Vec<FactRef>,
    /// Whether the recorders of link and list could have known.
    pub knowledge: Knowledge,
}
