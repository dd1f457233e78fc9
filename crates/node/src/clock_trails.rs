//! What the logs themselves tell of clocks, gathered for the reconciler: from the book what the depot's entries enclose and who met
//! whom against the times that they show; from the index the entries whose times run backwards or cannot be.
//!
//! Deliberately absent: readings of one clock against another ([`crate::in_force`]), and any conclusion.
//!
//! Invariant: a function of the entries that are held and count, now or at a moment of the past.

use std::collections::BTreeSet;

use gladhand_facts::{Fact, LogId, Place, VersionVector};
use gladhand_logbook::book::Meeting;
use gladhand_logbook::governance::Record as Rule;
use gladhand_logbook::roster::Roster;
use gladhand_logbook::{Body, Book, Entry};
use gladhand_reconcile::{DatedEntry, DepotLog, HandReading, LogTimes, Oddity, ShownAt, Trip};
use serde::{Deserialize, Serialize};

use crate::error::NodeError;
use crate::forks::forks;
use crate::index_keys::{CLOCK_NOTES, clock_notes_key};
use crate::node::Node;

impl Node {
    /// What the logs tell of clocks, by the entries in `held` that count.
    pub(crate) fn log_times(
        &self,
        roster: &Roster,
        held: &VersionVector,
        counts: &dyn Fn(&LogId, u64) -> bool,
    ) -> LogTimes {
        let Some(depot) = roster.root() else {
            return LogTimes::default();
        };
        let holds = |log: &LogId, seq: u64| held.includes(log, seq) && counts(log, seq);
        let depots = held.iter().filter(|(log, _)| log.device == depot);
        let notes = self.clock_notes.as_ref();
        let own = notes.into_iter().flat_map(|notes| &notes.odd);
        let own = own.filter(|odd| holds(&odd.log, odd.seq)).copied();
        let met = self.book.meetings().iter();
        let met = met.filter(|m| holds(&m.entry.0, m.entry.1) && holds(&m.depot.0, m.depot.1));
        let oddities: BTreeSet<Oddity> = own.chain(met.filter_map(odd_meeting)).collect();
        LogTimes {
            depot: depots.map(|(log, upto)| (log, self.depot_log(&log, upto))).collect(),
            oddities: oddities.into_iter().collect(),
            forks: forks(roster, &holds),
            trips: trips(roster, &holds),
            by_hand: notes
                .into_iter()
                .flat_map(|notes| &notes.by_hand)
                .filter(|reading| holds(&reading.place.log, reading.place.seq))
                .copied()
                .collect(),
        }
    }

    fn depot_log(&self, log: &LogId, upto: u64) -> DepotLog {
        DepotLog::new(self.book.walls(log, upto).to_vec(), self.book.clock_points(log, upto))
    }

    /// Reads from the index what entries tell of clocks, unless that is known.
    pub(crate) fn learn_clock_notes(&mut self) -> Result<(), NodeError> {
        if self.clock_notes.is_some() {
            return Ok(());
        }
        let mut all = ClockNotes::default();
        for row in self.index.values(&[CLOCK_NOTES]) {
            let (_, json) = row?;
            let wrong = |_| self.broken("what entries tell of clocks does not read");
            let here: ClockNotes = serde_json::from_slice(&json).map_err(wrong)?;
            all.odd.extend(here.odd);
            all.by_hand.extend(here.by_hand);
        }
        all.by_hand.sort();
        self.clock_notes = Some(all);
        Ok(())
    }
}

/// What entries tell of clocks, as the index holds it.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(crate) struct ClockNotes {
    odd: Vec<Oddity>,
    by_hand: Vec<HandReading>,
}

fn trips(roster: &Roster, holds: &dyn Fn(&LogId, u64) -> bool) -> Vec<Trip> {
    let said = roster.carried().filter(|(log, seq, _)| holds(log, *seq));
    let mut trips: Vec<Trip> = said
        .map(|(log, seq, carried)| Trip {
            place: Place { log, seq, index: 0 },
            read_us: carried.read_us,
            writer: carried.writer,
            head: carried.head,
            written_us: carried.written_us,
        })
        .collect();
    trips.sort();
    trips
}

fn odd_meeting(meeting: &Meeting) -> Option<Oddity> {
    let shown = |(log, seq, shown_us)| ShownAt { log, seq, shown_us };
    let (entry, depot) = (shown(meeting.entry), shown(meeting.depot));
    if meeting.by_depot {
        entry.seen_by_depot(depot)
    } else {
        entry.saw_depot(depot)
    }
}

/// A key of the index and its value.
type Row = (Vec<u8>, Vec<u8>);

/// What an entry tells of clocks, as the index holds it; `None` when it tells nothing.
///
/// # Errors
/// When it cannot be written as JSON.
pub(crate) fn clock_notes(book: &Book, log: &LogId, entry: &Entry, facts: &[Fact]) -> Result<Option<Row>, NodeError> {
    let (log, seq) = (*log, entry.seq);
    let dated = DatedEntry {
        log,
        seq,
        stamp: entry.stamp,
        before: book.shown_before(&log, seq),
    };
    let mut odd = dated.oddities(facts);
    odd.extend(reading_in(&entry.body).and_then(|at_us| dated.reading_oddity(at_us)));
    let places = (0u32..).map(|index| Place { log, seq, index });
    let by_hand: Vec<_> = facts
        .iter()
        .zip(places)
        .filter_map(|(fact, place)| HandReading::of_fact(fact, place))
        .collect();
    if odd.is_empty() && by_hand.is_empty() {
        return Ok(None);
    }
    let json = serde_json::to_vec(&ClockNotes { odd, by_hand }).map_err(|source| NodeError::Encode {
        what: "what an entry tells of clocks",
        source,
    })?;
    Ok(Some((clock_notes_key(&log, seq), json)))
}

/// What the device's clock showed at the clock reading that an entry holds.
fn reading_in(body: &Body) -> Option<i64> {
    let Body::Governance(json) = body else { return None };
    match Rule::decode(json) {
        Some(Rule::Clock { at_us, .. }) => Some(at_us),
        _ => None,
    }
}
