//! What a roster puts in force: the work standard, and the clock readings that count.
//!
//! Deliberately without a node: the roster may be the current one or the one of a moment in the past.
//!
//! Invariant: equal rosters give equal standards and readings, so that nodes with equal logs judge alike.

use std::sync::{Mutex, PoisonError};

use gladhand_facts::{LogId, Place};
use gladhand_logbook::roster::Roster;
use gladhand_reconcile::{ClockReading, Clocks, LogTimes};
use gladhand_trade::Standard;
use gladhand_trade::standard::BUILT_IN;

/// The standards that were parsed last. Parsing takes longer than most operations that need the standard.
static PARSED: Mutex<Vec<(String, Standard)>> = Mutex::new(Vec::new());
/// How many are kept: the one in force, and those of some moments in the past.
const MAX_PARSED: usize = 4;

/// The work standard that a roster puts in force: the depot's, or the built-in one if the depot has published none.
///
/// A depot with a newer version may publish a text that this version cannot parse. Such a node must still judge, so it uses the
/// built-in standard and logs a warning; its reports name the version of the standard that was used. It is no error, because
/// nothing at this node can mend it except an update.
pub(crate) fn standard_of(roster: &Roster) -> Standard {
    let text = roster.standard().map_or(BUILT_IN, |(_, text)| text);
    let mut parsed = PARSED.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some((_, standard)) = parsed.iter().find(|(known, _)| known == text) {
        return standard.clone();
    }
    let standard = Standard::parse(text).unwrap_or_else(|error| {
        tracing::warn!(%error, "the depot's work standard cannot be read here; the built-in one is used: {error}");
        Standard::built_in()
    });
    if parsed.len() >= MAX_PARSED {
        parsed.remove(0);
    }
    parsed.push((text.to_owned(), standard.clone()));
    standard
}

/// The clocks according to those readings of a roster that count, and to what the logs tell.
pub(crate) fn clocks_of(
    roster: &Roster,
    standard: &Standard,
    counts: &dyn Fn(&LogId, u64) -> bool,
    logs: LogTimes,
) -> Clocks {
    match roster.root() {
        Some(depot) => Clocks::of_logs(depot, standard.clock(), readings_of(roster, counts), logs),
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
