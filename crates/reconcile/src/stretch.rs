//! Stretches of a log in which its device's clock was set back, as the log itself shows.
//!
//! Between two contacts with the depot a clock may have been set back and right again, and both contacts find it right. If the
//! log's own times run backwards in between, nothing that this clock showed there is certain: what was recorded lies between
//! the two contacts, which is the hull of all that is possible, and only the order of the log and what was seen decide.
//!
//! A set-back that the contacts show by themselves (the clock is later found to be slower by as much) is left to
//! [`crate::pair_readings`]: there one setting of the clock explains everything.
//!
//! Where a contact is missing on one side, the clock is taken to be wrong by no more than one that nobody has measured.

use gladhand_facts::LogId;

use crate::clock_reading::WRITTEN_WITHIN_US;
use crate::contacts::{Contact, Contacts};
use crate::interval::Interval;
use crate::oddity::{Oddity, Shows};

/// See the module doc.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// The log.
    pub(crate) log: LogId,
    /// The entry of the contact before it; 0 when there is none.
    after_seq: u64,
    /// The entry of the contact after it; the largest number when there is none.
    upto_seq: u64,
    /// What the clock may have shown in it.
    shown: Interval,
    /// Between which times of the depot it lies.
    held: Interval,
}

impl Stretch {
    /// The stretches that `oddities` show, given the contacts of the logs.
    pub(crate) fn all(oddities: &[Oddity], contacts: &Contacts) -> Vec<Self> {
        let mut found: Vec<Self> = Vec::new();
        for stretch in oddities.iter().filter_map(|odd| Self::shown_by(odd, contacts)) {
            let place = |s: &Self| (s.log, s.after_seq, s.upto_seq);
            match found.iter_mut().find(|s| place(s) == place(&stretch)) {
                Some(known) => known.shown = known.shown.hull(stretch.shown),
                None => found.push(stretch),
            }
        }
        found
    }

    fn shown_by(odd: &Oddity, contacts: &Contacts) -> Option<Self> {
        let Shows::SetBack {
            before_seq,
            before_us,
            shown_us,
        } = odd.shows
        else {
            return None;
        };
        let before = contacts.before(&odd.log, odd.seq);
        let after = contacts.after(&odd.log, odd.seq);
        // A contact in between divides the two times: then it is the contact's that this one is earlier than, or it is not.
        let divides = before.filter(|(seq, _)| *seq > before_seq);
        let before_us = divides.map_or(before_us, |(_, c)| c.shown_us);
        let back_us = before_us.saturating_sub(shown_us);
        if back_us <= 0 || slower_by(before, after).is_some_and(|slower_us| slower_us >= back_us) {
            return None;
        }
        Some(Self {
            log: odd.log,
            after_seq: before.map_or(0, |(seq, _)| seq),
            upto_seq: after.map_or(u64::MAX, |(seq, _)| seq),
            shown: Interval {
                from_us: before.map_or(i64::MIN, |(_, c)| c.shown_us),
                to_us: after.map_or(i64::MAX, |(_, c)| {
                    c.shown_us.max(before_us).saturating_add(WRITTEN_WITHIN_US)
                }),
            },
            held: Interval {
                from_us: before.map_or(i64::MIN, |(_, c)| c.held.from_us),
                to_us: after.map_or(i64::MAX, |(_, c)| c.held.to_us.saturating_add(WRITTEN_WITHIN_US)),
            },
        })
    }

    /// Whether the entry at `seq` of its log was written in it.
    pub(crate) fn covers(&self, log: LogId, seq: u64) -> bool {
        self.log == log && self.after_seq < seq && seq <= self.upto_seq
    }

    /// Whether the clock may have shown one of these times in it.
    pub(crate) fn may_have_shown(&self, shown: Interval) -> bool {
        self.shown.touches(&shown)
    }

    /// Where a time lies that the clock showed in it; `wide` is how far a clock may be off that nobody has measured.
    pub(crate) fn possible(&self, wide: Interval) -> Interval {
        if self.held.is_closed() {
            self.held
        } else {
            wide.and(self.held)
        }
    }
}

/// By how much the clock was found to be slower at the contact after it than at the one before it.
fn slower_by(before: Option<(u64, Contact)>, after: Option<(u64, Contact)>) -> Option<i64> {
    let behind_us = |(_, c): (u64, Contact)| c.held.is_closed().then(|| c.held.to_us.saturating_sub(c.shown_us));
    Some(behind_us(after?)?.saturating_sub(behind_us(before?)?))
}
