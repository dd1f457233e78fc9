//! A time together with the clock it was read from. Times of different clocks cannot be compared as they stand; see
//! [`crate::clocks`].

use gladhand_facts::{Fact, LogId};
use serde::{Deserialize, Serialize};

/// A clock by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum ClockName {
    /// The clock of the device that writes this log. Two logs of one device share it, unless they are known to be written by two
    /// copies of one home.
    Device(LogId),
    /// What a person said to the device that writes this log.
    Person(LogId),
    /// The clock of the server that answers for the trackers.
    Reference,
}

impl ClockName {
    /// The clock from which the time of a fact was read that stands in `log`. A time that the device filled in is the device's,
    /// even if the fact names another clock.
    pub fn of_fact(fact: &Fact, log: LogId) -> Self {
        if fact.is_filled("at") || fact.at().is_none() {
            Self::Device(log)
        } else {
            Self::named_by(fact, log)
        }
    }

    /// The clock that a fact names. It applies to the times that a person or a program gave, not to filled-in ones.
    pub fn named_by(fact: &Fact, log: LogId) -> Self {
        match fact.text("clock").as_deref() {
            Some("reference") => Self::Reference,
            Some("person") => Self::Person(log),
            _ => Self::Device(log),
        }
    }
}

/// A time and the clock that it was read from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Timed {
    /// The clock.
    pub clock: ClockName,
    /// Microseconds since 1970-01-01T00:00:00Z by that clock.
    pub at_us: i64,
}

impl Timed {
    /// A time that a person said, as if it had been read from the clock of the device.
    pub(crate) fn as_if_read(self) -> Self {
        match self.clock {
            ClockName::Person(log) => Self {
                clock: ClockName::Device(log),
                ..self
            },
            ClockName::Device(_) | ClockName::Reference => self,
        }
    }
}
