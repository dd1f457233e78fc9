//! What the network has to tell: counters for `status`, metrics and tests.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use serde::Serialize;

/// One counter.
#[derive(Debug, Default)]
pub struct Counter(AtomicU64);

impl Counter {
    /// One more.
    pub fn up(&self) {
        self.add(1);
    }

    /// So many more.
    pub fn add(&self, count: u64) {
        self.0.fetch_add(count, Ordering::Relaxed);
    }

    /// How many.
    pub fn get(&self) -> u64 {
        self.0.load(Ordering::Relaxed)
    }
}

impl Serialize for Counter {
    fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        self.get().serialize(s)
    }
}

/// The counters, since the start. Shared.
#[derive(Debug, Default, Serialize)]
pub struct Counters {
    /// Connections that came in.
    pub accepted: Counter,
    /// Of them: from keys that are not on the roster.
    pub strangers: Counter,
    /// Of them: dropped unseen, because their address had too many refusals.
    pub held_off: Counter,
    /// Of them: handshakes that did not end, or were none.
    pub no_handshake: Counter,
    /// Of them: turned away because too many sessions were open.
    pub busy: Counter,
    /// Dials.
    pub dialled: Counter,
    /// Sessions that came up.
    pub sessions: Counter,
    /// Credentials that were believed.
    pub joined: Counter,
    /// Credentials that were not.
    pub join_refused: Counter,
    /// New entries that came in.
    pub entries_in: Counter,
    /// Entries that came in though they were here.
    pub entries_known: Counter,
    /// Entries that were sent.
    pub entries_out: Counter,
    /// Runs and frames that were refused.
    pub refused: Counter,
    /// Bytes of messages that came in.
    pub bytes_in: Counter,
    /// Bytes of messages that went out.
    pub bytes_out: Counter,
    /// Pictures that came in.
    pub pictures_in: Counter,
    /// Bytes of pictures that came in.
    pub picture_bytes_in: Counter,
    /// Bytes of pictures that went out.
    pub picture_bytes_out: Counter,
    /// Pictures and ranges that were thrown away: not what they should be.
    pub pictures_refused: Counter,
    /// Pictures that were not taken because of their size.
    pub pictures_too_large: Counter,
    /// Clock readings that were recorded.
    pub clock_readings: Counter,
}

impl Counters {
    /// All of them, by name.
    pub fn listed(&self) -> BTreeMap<String, u64> {
        let all = [
            ("accepted", &self.accepted),
            ("strangers", &self.strangers),
            ("held_off", &self.held_off),
            ("no_handshake", &self.no_handshake),
            ("busy", &self.busy),
            ("dialled", &self.dialled),
            ("sessions", &self.sessions),
            ("joined", &self.joined),
            ("join_refused", &self.join_refused),
            ("entries_in", &self.entries_in),
            ("entries_known", &self.entries_known),
            ("entries_out", &self.entries_out),
            ("refused", &self.refused),
            ("bytes_in", &self.bytes_in),
            ("bytes_out", &self.bytes_out),
            ("pictures_in", &self.pictures_in),
            ("picture_bytes_in", &self.picture_bytes_in),
            ("picture_bytes_out", &self.picture_bytes_out),
            ("pictures_refused", &self.pictures_refused),
            ("pictures_too_large", &self.pictures_too_large),
            ("clock_readings", &self.clock_readings),
        ];
        all.map(|(name, counter)| (name.to_owned(), counter.get())).into()
    }
}

/// The counters, shared.
pub type SharedCounters = Arc<Counters>;
