//! How a reason refers to facts and times.

use std::sync::Arc;

use gladhand_facts::{Kind, Moment, Place};
use serde::{Deserialize, Serialize};

use crate::clocks::Clocks;
use crate::interval::Interval;
use crate::recorded_fact::RecordedFact;
use crate::ties::Tie;

/// A time as it was written, with its offset.
///
/// Kept as text and not as a [`Moment`]: a device whose clock is far outside the calendar gives a text that does not parse.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct WrittenTime(String);

impl WrittenTime {
    /// As it was written.
    pub fn text(&self) -> &str {
        &self.0
    }
}

impl From<&Moment> for WrittenTime {
    fn from(moment: &Moment) -> Self {
        Self(moment.text().to_owned())
    }
}

/// A fact by its place, with who did it and when.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct FactRef {
    /// Where it is recorded; this names the device too.
    pub place: Place,
    /// The person, if the fact says so.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub by: Option<String>,
    /// When it happened.
    pub at: WrittenTime,
    /// The same by the depot's clock, where the rule compared times and a depot is known.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub within: Option<Interval>,
}

impl FactRef {
    /// Refers to one fact.
    pub fn of(recorded: &RecordedFact) -> Self {
        Self {
            place: recorded.place,
            by: recorded.owned("by"),
            at: WrittenTime::from(&recorded.at()),
            within: None,
        }
    }

    /// Refers to several facts.
    pub fn all(recorded: &[Arc<RecordedFact>]) -> Vec<Self> {
        recorded.iter().map(|w| Self::of(w)).collect()
    }

    /// Refers to a fact whose time was compared with others.
    pub fn timed(recorded: &RecordedFact, clocks: &Clocks) -> Self {
        Self {
            within: clocks.interval_of(recorded),
            ..Self::of(recorded)
        }
    }
}

/// A link or an unlink.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct PairRef {
    /// The camera of the pair.
    pub camera: String,
    /// The tracker of the pair.
    pub tracker: String,
    /// The fact.
    pub fact: FactRef,
}

impl PairRef {
    /// Refers to links or unlinks.
    pub fn all(ties: &[&Tie]) -> Vec<Self> {
        let pair = |t: &&Tie| Self {
            camera: t.camera.clone(),
            tracker: t.tracker.clone(),
            fact: FactRef::of(&t.recorded),
        };
        ties.iter().map(pair).collect()
    }
}

/// What a fact says, as far as it is named in a sentence. A key that the fact does not carry is `None`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum FactLabel {
    Link {
        camera: Option<String>,
        tracker: Option<String>,
    },
    Unlink {
        camera: Option<String>,
        tracker: Option<String>,
    },
    Settings {
        tracker: Option<String>,
        state: Option<String>,
    },
    Stock {
        part: Option<String>,
    },
    Job {
        job: Option<String>,
    },
    Scan {
        code: Option<String>,
    },
    Check {
        check: Option<String>,
        job: Option<String>,
    },
    Proof {
        state: Option<String>,
        job: Option<String>,
    },
    SignOff {
        job: Option<String>,
    },
    StandDown {
        job: Option<String>,
    },
    Withdraw {
        job: Option<String>,
    },
    Other {
        kind: String,
        job: Option<String>,
    },
}

impl FactLabel {
    /// Labels a fact.
    pub fn of(recorded: &RecordedFact) -> Self {
        let text = |key: &str| recorded.owned(key);
        let (job, camera, tracker) = (text("job"), text("camera"), text("tracker"));
        match recorded.fact.kind() {
            Kind::Link => Self::Link { camera, tracker },
            Kind::Unlink => Self::Unlink { camera, tracker },
            Kind::Settings => {
                let state = text("state");
                Self::Settings { tracker, state }
            }
            Kind::Stock => {
                let part = camera.or(tracker);
                Self::Stock { part }
            }
            Kind::Job => Self::Job { job },
            Kind::Scan => Self::Scan { code: text("code") },
            Kind::Check => {
                let check = text("check");
                Self::Check { check, job }
            }
            Kind::Proof => {
                let state = text("state");
                Self::Proof { state, job }
            }
            Kind::SignOff => Self::SignOff { job },
            Kind::StandDown => Self::StandDown { job },
            Kind::Withdraw => Self::Withdraw { job },
            other => {
                let kind = other.name().to_owned();
                Self::Other { kind, job }
            }
        }
    }
}
