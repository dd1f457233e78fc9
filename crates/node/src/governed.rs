//! What a roster puts in force: the work standard, and the clock readings that count.

use std::sync::{Mutex, PoisonError};

use gladhand_facts::{LogId, Place};
use gladhand_logbook::roster::Roster;
use gladhand_reconcile::{ClockReading, Clocks};
use gladhand_trade::Standard;
use gladhand_trade::standard::BUILT_IN;

/// The standards that were read last. Reading one takes longer than most of what it is read for.
static READ: Mutex<Vec<(String, Standard)>> = Mutex::new(Vec::new());
/// More are not in use at once: the one in force, and those of some moments in the past.
const KEPT: usize = 4;

/// The work standard that a roster puts in force.
pub(crate) fn standard_of(roster: &Roster) -> Standard {
    let text = roster.standard().map_or(BUILT_IN, |(_, text)| text);
    let mut read = READ.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some((_, standard)) = read.iter().find(|(known, _)| known == text) {
        return standard.clone();
    }
    let standard = Standard::parse(text).unwrap_or_else(|_| Standard::built_in());
    if read.len() >= KEPT {
        read.remove(0);
    }
    read.push((text.to_owned(), standard.clone()));
    standard
}

/// The clocks by those readings of a roster that count.
pub(crate) fn clocks_of(roster: &Roster, standard: &Standard, counts: &dyn Fn(&LogId, u64) -> bool) -> Clocks {
    match roster.root() {
        Some(depot) => Clocks::measured(depot, standard.clock(), readings_of(roster, counts)),
        None => Clocks::unmeasured(),
    }
}

/// Those clock readings of a roster that count.
pub(crate) fn readings_of(roster: &Roster, counts: &dyn Fn(&LogId, u64) -> bool) -> Vec<ClockReading> {
    let read = roster.clock_readings();
    read.filter(|(log, seq, _)| counts(log, *seq))
        .map(|(log, seq, r)| ClockReading {
            device: log.device,
            peer: r.peer,
            at_us: r.at_us,
            offset_us: r.offset_us,
            delay_us: r.delay_us,
            place: Place { log, seq, index: 0 },
        })
        .collect()
}
