//! What the logs themselves tell of clocks, gathered for the reconciler: from the book what the depot's entries enclose and who met
//! whom against the times that they show; from the index the entries whose times run backwards or cannot be.
//!
//! Deliberately absent: readings of one clock against another ([`crate::in_force`]), and any conclusion.
//!
//! Invariant: a function of the entries that are held and count, now or at a moment of the past.

use std::collections::BTreeSet;

use gladhand_facts::{DeviceKey, Fact, LogId, VersionVector};
use gladhand_logbook::book::Meeting;
use gladhand_logbook::governance::Record as Rule;
use gladhand_logbook::roster::Roster;
use gladhand_logbook::{Body, Book, Entry};
use gladhand_reconcile::{DatedEntry, DepotLog, LogTimes, Oddity, ShownAt};

use crate::error::NodeError;
use crate::forks::forks;
use crate::index_keys::{ODD, odd_key};
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
        let own = self.odd.iter().flatten().filter(|odd| holds(&odd.log, odd.seq)).copied();
        let met = self.book.meetings().iter();
        let met = met.filter(|m| holds(&m.entry.0, m.entry.1) && holds(&m.depot.0, m.depot.1));
        let oddities: BTreeSet<Oddity> = own.chain(met.filter_map(odd_meeting)).collect();
        LogTimes {
            depot: depots.map(|(log, upto)| (log, self.depot_log(&log, upto))).collect(),
            oddities: oddities.into_iter().collect(),
            forks: forks(roster, &holds),
        }
    }

    fn depot_log(&self, log: &LogId, upto: u64) -> DepotLog {
        DepotLog::new(self.book.walls(log, upto).to_vec(), self.book.clock_points(log, upto))
    }

    /// Reads from the index which entries are odd, unless that is known.
    pub(crate) fn learn_odd_entries(&mut self) -> Result<(), NodeError> {
        if self.odd.is_some() {
            return Ok(());
        }
        let mut odd = Vec::new();
        for row in self.index.values(&[ODD]) {
            let (_, json) = row?;
            let here: Vec<Oddity> = serde_json::from_slice(&json).map_err(|_| self.broken("odd entries do not read"))?;
            odd.extend(here);
        }
        self.odd = Some(odd);
        Ok(())
    }

    /// The devices about whose clocks something is odd.
    pub(crate) fn odd_devices(&self) -> BTreeSet<DeviceKey> {
        let own = self.odd.iter().flatten().map(|odd| odd.log.device);
        own.chain(self.book.meetings().iter().map(|m| m.entry.0.device))
            .collect()
    }
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

/// What is odd about the times of an entry, as an index holds it; `None` when nothing is.
///
/// # Errors
/// When it cannot be written as JSON.
pub(crate) fn odd_value(
    book: &Book,
    log: &LogId,
    entry: &Entry,
    facts: &[Fact],
) -> Result<Option<(Vec<u8>, Vec<u8>)>, NodeError> {
    let dated = DatedEntry {
        log: *log,
        seq: entry.seq,
        stamp: entry.stamp,
        before: book.shown_before(log, entry.seq),
    };
    let mut found = dated.oddities(facts);
    found.extend(reading_in(&entry.body).and_then(|at_us| dated.reading_oddity(at_us)));
    if found.is_empty() {
        return Ok(None);
    }
    let json = serde_json::to_vec(&found).map_err(|source| NodeError::Encode {
        what: "an odd entry",
        source,
    })?;
    Ok(Some((odd_key(log, entry.seq), json)))
}

/// What the device's clock showed at the clock reading that an entry holds.
fn reading_in(body: &Body) -> Option<i64> {
    let Body::Governance(json) = body else { return None };
    match Rule::decode(json) {
        Some(Rule::Clock { at_us, .. }) => Some(at_us),
        _ => None,
    }
}
