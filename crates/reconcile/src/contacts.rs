//! The contacts of devices with the depot: readings of its clock, and bundles that one wrote and the other read.
//!
//! A contact is known by an entry of a log: what was recorded before that entry is earlier than the contact, whatever the clock showed,
//! and what was recorded after it is later.
//!
//! Deliberately absent: readings through other devices. Their own clocks take part in these ([`crate::clock_graph`]).

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Bound;

use gladhand_facts::{DeviceKey, LogId, Place, VersionVector};

use crate::clock_reading::{ClockReading, WRITTEN_WITHIN_US};
use crate::interval::Interval;
use crate::sticks::Trip;

/// A contact of a log's device with the depot. Its time may be open on one side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Contact {
    /// What the device's clock showed.
    pub(crate) shown_us: i64,
    /// When it was, by the depot's clock.
    pub(crate) held: Interval,
}

/// The contacts of each log, by the last entry that was not later.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Contacts {
    logs: BTreeMap<LogId, BTreeMap<u64, Contact>>,
}

impl Contacts {
    pub(crate) fn new(depot: DeviceKey, readings: &[ClockReading], trips: &[Trip]) -> Self {
        let mut found = Self::default();
        for reading in readings {
            let held = if reading.device == depot {
                Interval::around(reading.at_us, 0)
            } else if reading.peer == depot {
                Interval::around(reading.there_us(), reading.half_us())
            } else {
                continue;
            };
            let contact = Contact {
                shown_us: reading.at_us,
                held,
            };
            found.log(reading.place.log).insert(reading.place.seq, contact);
        }
        for trip in trips {
            if trip.place.log.device == depot {
                let held = Interval {
                    from_us: i64::MIN,
                    to_us: trip.read_us,
                };
                let contact = Contact {
                    shown_us: trip.written_us,
                    held,
                };
                found.log(trip.writer).entry(trip.head).or_insert(contact);
            } else if trip.writer.device == depot {
                let held = Interval {
                    from_us: trip.written_us,
                    to_us: i64::MAX,
                };
                let contact = Contact {
                    shown_us: trip.read_us,
                    held,
                };
                found.log(trip.place.log).entry(trip.place.seq).or_insert(contact);
            }
        }
        found
    }

    /// The entries at which something else is known than `before`.
    pub(crate) fn changed_since(&self, before: &Self) -> BTreeSet<(LogId, u64)> {
        let listed = |contacts: &Self| -> BTreeMap<(LogId, u64), Contact> {
            let logs = contacts.logs.iter();
            logs.flat_map(|(log, at)| at.iter().map(|(seq, contact)| ((*log, *seq), *contact)))
                .collect()
        };
        let (now, then) = (listed(self), listed(before));
        let differs = |place: &&(LogId, u64)| now.get(place) != then.get(place);
        now.keys().chain(then.keys()).filter(differs).copied().collect()
    }

    /// The entries that a contact at `seq` encloses on one of its sides, from the first to the last one.
    pub(crate) fn reach(&self, log: &LogId, seq: u64) -> (u64, u64) {
        let Some(contacts) = self.logs.get(log) else {
            return (1, u64::MAX);
        };
        let beyond = (Bound::Excluded(seq), Bound::Unbounded);
        let before = contacts.range(..seq).rfind(|(_, c)| c.held.to_us < i64::MAX);
        let after = contacts.range(beyond).find(|(_, c)| c.held.from_us > i64::MIN);
        (
            before.map_or(1, |(seq, _)| seq.saturating_add(1)),
            after.map_or(u64::MAX, |(seq, _)| *seq),
        )
    }

    fn log(&mut self, log: LogId) -> &mut BTreeMap<u64, Contact> {
        self.logs.entry(log).or_default()
    }

    /// The last contact before the entry at `seq` that says after which time of the depot it was.
    pub(crate) fn before(&self, log: &LogId, seq: u64) -> Option<(u64, Contact)> {
        let mut earlier = self.logs.get(log)?.range(..seq);
        let found = earlier.rfind(|(_, contact)| contact.held.from_us > i64::MIN);
        found.map(|(seq, contact)| (*seq, *contact))
    }

    /// The first contact at or after the entry at `seq` that says before which time of the depot it was.
    pub(crate) fn after(&self, log: &LogId, seq: u64) -> Option<(u64, Contact)> {
        let from_here = (Bound::Included(seq), Bound::Unbounded);
        let mut later = self.logs.get(log)?.range(from_here);
        let found = later.find(|(_, contact)| contact.held.to_us < i64::MAX);
        found.map(|(seq, contact)| (*seq, *contact))
    }

    /// Between which times of the depot an entry was written: after the contacts that its log or the depot's had seen, and before the
    /// next one of its own log. (A reading is taken a little before it is written down.)
    pub(crate) fn enclosing(&self, place: &Place, seen: &VersionVector, depot: DeviceKey) -> Interval {
        let of_depot = self.logs.keys().filter(|log| log.device == depot);
        let by_depot = of_depot.filter_map(|log| self.before(log, seen.get(log).checked_add(1)?));
        let own = self.before(&place.log, place.seq);
        let after = own.into_iter().chain(by_depot).map(|(_, contact)| contact.held.from_us);
        let before = self.after(&place.log, place.seq);
        Interval {
            from_us: after.max().unwrap_or(i64::MIN),
            to_us: before.map_or(i64::MAX, |(_, contact)| {
                contact.held.to_us.saturating_add(WRITTEN_WITHIN_US)
            }),
        }
    }
}
