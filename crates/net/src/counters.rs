//! Counters of the network since the start of the process, for `status`, metrics and tests.
//!
//! They only grow. Each is exact, but two read after each other may be of different moments.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use serde::Serialize;

/// One counter.
#[derive(Debug, Default)]
pub struct Counter(AtomicU64);

impl Counter {
    /// Adds one.
    pub fn up(&self) {
        self.add(1);
    }

    /// Adds `count`.
    pub fn add(&self, count: u64) {
        self.0.fetch_add(count, Ordering::Relaxed);
    }

    /// The current value.
    pub fn get(&self) -> u64 {
        self.0.load(Ordering::Relaxed)
    }
}

impl Serialize for Counter {
    fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        self.get().serialize(s)
    }
}

/// All counters.
#[derive(Debug, Default, Serialize)]
pub struct Counters {
    /// Connections accepted.
    pub accepted: Counter,
    /// Of them: from keys that are not on the roster.
    pub strangers: Counter,
    /// Of them: dropped before the handshake, because their address had too many refusals or too many handshakes ran.
    pub held_off: Counter,
    /// Of them: the handshake failed or took too long.
    pub no_handshake: Counter,
    /// Of them: refused because too many sessions were open.
    pub busy: Counter,
    /// Dials begun.
    pub dialled: Counter,
    /// Sessions in which the peer sent something.
    pub sessions: Counter,
    /// Credentials that were admitted.
    pub joined: Counter,
    /// Credentials that were refused.
    pub join_refused: Counter,
    /// New entries received.
    pub entries_in: Counter,
    /// Entries received that this node held already.
    pub entries_known: Counter,
    /// Entries sent.
    pub entries_out: Counter,
    /// Runs and frames that were refused.
    pub refused: Counter,
    /// Bytes of packets received.
    pub bytes_in: Counter,
    /// Bytes of packets sent.
    pub bytes_out: Counter,
    /// Pictures received.
    pub pictures_in: Counter,
    /// Bytes of pictures received.
    pub picture_bytes_in: Counter,
    /// Bytes of pictures sent.
    pub picture_bytes_out: Counter,
    /// Pictures and ranges that were discarded: not asked for, or not what the hash says.
    pub pictures_refused: Counter,
    /// Pictures that were not fetched because of their size.
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
