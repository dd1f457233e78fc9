//! What an entry shows that no clock that simply runs can show.
//!
//! - A log's own times run backwards: its device's clock was set back in between.
//! - A time that was read is from before there was anything to read, or from after it was recorded.
//! - An entry was seen before the time that it shows, or had seen what was written after that time.
//!
//! Only what an entry itself tells counts here, with the entries that it had seen: so an oddity, once known, stays one.
//!
//! Deliberately absent: what follows from it. [`crate::stretch`] says which times become uncertain, `clock-off` tells people.

use gladhand_facts::stamp::MAX_AHEAD_US;
use gladhand_facts::{Fact, LogId, Place, Stamp};
use serde::{Deserialize, Serialize};

use crate::clock_reading::WRITTEN_WITHIN_US;
use crate::timed::ClockName;

/// 2026-01-01T00:00:00Z. Before that there was nothing of this trade to record.
const EARLIEST_US: i64 = 1_767_225_600_000_000;
/// By how much a time that the device filled in may be earlier than the entry before it: the facts of many entries may be filled in
/// before the first of them is written.
const FILLED_WITHIN_US: i64 = 60_000_000;

/// Something odd, and the entry that shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Oddity {
    /// The log of the device whose clock it is about.
    pub log: LogId,
    /// The entry in that log.
    pub seq: u64,
    /// What it shows.
    pub shows: Shows,
}

/// In which way a clock shows what it cannot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Shows {
    /// The clock showed `shown_us`, and `before_us` when an earlier entry of the log was written.
    SetBack {
        /// The earlier entry.
        before_seq: u64,
        /// What it had shown before.
        before_us: i64,
        /// What it showed now.
        shown_us: i64,
    },
    /// A time that was read is from before this trade.
    TooEarly {
        /// The time.
        at_us: i64,
    },
    /// A time that was read from the device's clock is later than the clock was when it was recorded.
    Future {
        /// The time.
        at_us: i64,
        /// What the clock showed when it was recorded, at the latest.
        recorded_us: i64,
    },
    /// The entry was written at `shown_us`, and the depot had seen it at `measure_us`, which is earlier.
    SeenBefore {
        /// What the clock showed.
        shown_us: i64,
        /// The depot's clock.
        measure_us: i64,
        /// The depot's entry.
        measured_at: Place,
    },
    /// Beside a clock that somebody trusts, the device's showed `shown_us` and that one `reference_us`.
    Apart {
        /// What the device's clock showed.
        shown_us: i64,
        /// What the other clock showed.
        reference_us: i64,
        /// How far the other one may be off.
        uncertainty_us: i64,
    },
    /// The entry was written at `shown_us`, and had seen what the depot wrote at `measure_us`, which is later.
    SawLater {
        /// What the clock showed.
        shown_us: i64,
        /// The depot's clock.
        measure_us: i64,
        /// The depot's entry.
        measured_at: Place,
    },
}

impl Oddity {
    /// The place of the entry.
    pub fn place(&self) -> Place {
        let (log, seq) = (self.log, self.seq);
        Place { log, seq, index: 0 }
    }
}

impl Shows {
    /// By how much the clock, or a time that was read, is out of place.
    pub fn off_us(&self) -> i64 {
        match *self {
            Self::SetBack {
                before_us, shown_us, ..
            } => before_us.saturating_sub(shown_us),
            Self::TooEarly { at_us } => EARLIEST_US.saturating_sub(at_us),
            Self::Future { at_us, recorded_us } => at_us.saturating_sub(recorded_us),
            Self::SeenBefore {
                shown_us, measure_us, ..
            } => shown_us.saturating_sub(measure_us),
            Self::SawLater {
                shown_us, measure_us, ..
            } => measure_us.saturating_sub(shown_us),
            Self::Apart {
                shown_us,
                reference_us,
                uncertainty_us,
            } => {
                let apart_us = shown_us.saturating_sub(reference_us).saturating_abs();
                apart_us.saturating_sub(uncertainty_us)
            }
        }
    }

    /// When it was seen, by the depot's clock, where that is known.
    pub fn measure_us(&self) -> Option<i64> {
        match self {
            Self::SeenBefore { measure_us, .. } | Self::SawLater { measure_us, .. } => Some(*measure_us),
            Self::SetBack { .. } | Self::TooEarly { .. } | Self::Future { .. } | Self::Apart { .. } => None,
        }
    }
}

/// A difference that is shorter is not worth noting: an entry may have waited for a moment.
const NOTABLE_US: i64 = 60_000_000;

/// An entry and what its device's clock showed when it was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ShownAt {
    /// The log.
    pub log: LogId,
    /// The entry.
    pub seq: u64,
    /// What the clock showed.
    pub shown_us: i64,
}

impl ShownAt {
    fn odd(self, shows: Shows) -> Oddity {
        let (log, seq) = (self.log, self.seq);
        Oddity { log, seq, shows }
    }

    fn place(self) -> Place {
        let (log, seq) = (self.log, self.seq);
        Place { log, seq, index: 0 }
    }

    /// The oddity of this entry when the depot's entry had seen it.
    pub fn seen_by_depot(self, depot: Self) -> Option<Oddity> {
        let shows = Shows::SeenBefore {
            shown_us: self.shown_us,
            measure_us: depot.shown_us,
            measured_at: depot.place(),
        };
        let is_ahead = self.shown_us.saturating_sub(depot.shown_us) > NOTABLE_US;
        is_ahead.then(|| self.odd(shows))
    }

    /// The oddity of this entry when it had seen the depot's.
    pub fn saw_depot(self, depot: Self) -> Option<Oddity> {
        let shows = Shows::SawLater {
            shown_us: self.shown_us,
            measure_us: depot.shown_us,
            measured_at: depot.place(),
        };
        let is_behind = depot.shown_us.saturating_sub(self.shown_us) > NOTABLE_US;
        is_behind.then(|| self.odd(shows))
    }
}

/// An entry whose times are looked at.
#[derive(Debug, Clone, Copy)]
pub struct DatedEntry {
    /// Its log.
    pub log: LogId,
    /// Its place.
    pub seq: u64,
    /// Its stamp.
    pub stamp: Stamp,
    /// The last entry before it whose stamp tells what the device's clock showed, and that.
    pub before: Option<(u64, i64)>,
}

impl DatedEntry {
    fn odd(&self, shows: Shows) -> Oddity {
        let (log, seq) = (self.log, self.seq);
        Oddity { log, seq, shows }
    }

    /// The oddities that the facts of the entry show.
    pub fn oddities(&self, facts: &[Fact]) -> Vec<Oddity> {
        let set_back = facts.iter().filter_map(|fact| self.set_back(fact)).min();
        let dated = facts.iter().filter_map(|fact| self.misdated(fact)).min();
        let found = set_back.into_iter().chain(dated);
        found.map(|shows| self.odd(shows)).collect()
    }

    /// The oddity of a reading that was recorded in the entry.
    pub fn reading_oddity(&self, at_us: i64) -> Option<Oddity> {
        let (before_seq, before_us) = self.before?;
        let is_back = at_us.saturating_add(WRITTEN_WITHIN_US) < before_us;
        let shows = Shows::SetBack {
            before_seq,
            before_us,
            shown_us: at_us,
        };
        is_back.then(|| self.odd(shows))
    }

    /// A time that the device filled in is what its clock showed. One that a program read just before shows it as well where the
    /// stamp had to count because the clock did not go on. (A stamp also counts for another device's that is a little ahead; then its
    /// wall part is not the one of the own entry.)
    fn set_back(&self, fact: &Fact) -> Option<Shows> {
        let ((before_seq, before_us), shown_us) = (self.before?, fact.at()?.unix_us());
        let is_filled = fact.is_filled("at");
        let is_stuck = self.stamp.counter > 0 && self.stamp.wall_us == before_us;
        let shows_itself = is_filled || (self.is_by_device(fact) && is_stuck);
        let allowed_us = if is_filled { FILLED_WITHIN_US } else { MAX_AHEAD_US };
        let is_back = shown_us.saturating_add(allowed_us) < before_us;
        (shows_itself && is_back).then_some(Shows::SetBack {
            before_seq,
            before_us,
            shown_us,
        })
    }

    fn misdated(&self, fact: &Fact) -> Option<Shows> {
        let at_us = fact.at()?.unix_us();
        if ClockName::of_fact(fact, self.log) == ClockName::Person(self.log) {
            return None;
        }
        let recorded_us = self.stamp.wall_us;
        let is_future = self.is_by_device(fact) && at_us > recorded_us;
        if at_us < EARLIEST_US {
            Some(Shows::TooEarly { at_us })
        } else {
            is_future.then_some(Shows::Future { at_us, recorded_us })
        }
    }

    fn is_by_device(&self, fact: &Fact) -> bool {
        ClockName::of_fact(fact, self.log) == ClockName::Device(self.log)
    }
}
