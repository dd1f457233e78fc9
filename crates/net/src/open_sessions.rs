//! The open sessions of a node, and stopping them.
//!
//! Two devices that discover each other dial each other. Of the two connections the one dialled by the device with the smaller key
//! stays: both sides decide alike, so they never close both. A session counts as up only when the first exchange message was
//! received, because in TLS 1.3 the dialling side learns only after its handshake that its key was refused.
//!
//! When all places are taken, the session that has been level the longest makes room for a device that asks for one. If none is
//! level, devices take turns: the oldest session whose peer has nothing more to send gives its place up for a while, after
//! [`STAY`] at least, because what others have recorded reaches that peer later, and what nobody else has must come in first. If
//! there is none of these either, the device is turned away and told when to come again ([`super::turnstile`]).
//!
//! Deliberately absent: what a session does ([`super::session`]).
//!
//! Invariants: at most one session with each device, at most [`MAX_SESSIONS`] in all besides those that are just closing, of
//! which there are at most as many; a session with an untrusted device is stopped, also when the device was removed while the
//! session was being opened.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use gladhand_facts::DeviceKey;
use tokio::sync::watch;
use tokio::time::{Duration, Instant};

use crate::connection::PeerConnection;
use crate::trust::Trust;
use crate::turnstile::Turnstile;

/// How many sessions may be open at a time.
pub const MAX_SESSIONS: usize = 64;
/// How long a session may stay before it takes turns with others.
pub const STAY: Duration = Duration::from_secs(2);
/// How long a device that made room stays away, unless it records something.
pub const REST_MS: u64 = 90_000;

/// Why a connection is not admitted as a session.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NotAdmitted {
    /// There is a session with this device already.
    #[error("there is a session with this device already")]
    Duplicate,
    /// As many sessions as may be open are open, and all of them have something to do.
    #[error("too many devices are here at once; come again in {} s", again_ms.div_ceil(1_000))]
    Busy {
        /// In how many milliseconds it is worth trying again.
        again_ms: u64,
    },
    /// The device is not on the roster (any more).
    #[error("the device is not on the roster")]
    Untrusted,
}

/// Why a session was told to stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StopReason {
    /// The device is no longer on the roster.
    Untrusted,
    /// The depot has retired the device.
    Retired,
    /// Another connection with the same device took its place.
    Replaced,
    /// Both sides hold the same, and another device needs the place.
    MakeRoom,
    /// Another device needs the place; this one is to come again for the rest.
    TakeTurns {
        /// In how many milliseconds.
        again_ms: u64,
    },
    /// This process is shutting down.
    Shutdown,
}

#[derive(Debug)]
struct Entry {
    id: u64,
    dialled: bool,
    up: bool,
    /// Counts the sessions in the order in which they became level. `None`: this one is not level.
    level: Option<u64>,
    /// The peer has nothing more to send.
    delivered: bool,
    opened: Instant,
    stop: watch::Sender<Option<StopReason>>,
    connection: Arc<PeerConnection>,
}

impl Entry {
    fn is_closing(&self) -> bool {
        self.stop.borrow().is_some()
    }
}

#[derive(Debug)]
struct Inner {
    next_id: u64,
    next_level: u64,
    places: usize,
    open: BTreeMap<DeviceKey, Entry>,
    /// The devices whose last session was level and made room.
    resting: BTreeSet<DeviceKey>,
    turnstile: Turnstile,
}

impl Inner {
    /// Inserts a session that is not up yet. Returns its id.
    fn insert(
        &mut self,
        peer: DeviceKey,
        dialled: bool,
        stop: watch::Sender<Option<StopReason>>,
        connection: &Arc<PeerConnection>,
    ) -> u64 {
        self.next_id += 1;
        let entry = Entry {
            id: self.next_id,
            dialled,
            up: false,
            level: None,
            delivered: false,
            opened: Instant::now(),
            stop,
            connection: Arc::clone(connection),
        };
        self.open.insert(peer, entry);
        self.resting.remove(&peer);
        self.next_id
    }

    /// Makes sure that one more session may be open. `false`: none of those that are open can be given up.
    fn make_room(&mut self, now_ms: u64) -> bool {
        let closing = self.open.values().filter(|entry| entry.is_closing()).count();
        if self.open.len() - closing < self.places {
            return true;
        }
        if closing >= self.places {
            return false;
        }
        let staying = || self.open.values().filter(|entry| !entry.is_closing());
        let levels = staying().filter_map(|entry| Some((entry.level?, entry)));
        if let Some((_, entry)) = levels.min_by_key(|(since, _)| *since) {
            entry.stop.send_replace(Some(StopReason::MakeRoom));
            return true;
        }
        let delivered = staying().filter(|entry| entry.delivered && entry.opened.elapsed() >= STAY);
        let Some(entry) = delivered.min_by_key(|entry| entry.id) else {
            return false;
        };
        let again_ms = self.turnstile.wait_ms(now_ms);
        entry.stop.send_replace(Some(StopReason::TakeTurns { again_ms }));
        true
    }
}

/// The open sessions. Clones share one set.
#[derive(Debug, Clone)]
pub struct OpenSessions {
    own: DeviceKey,
    trust: Trust,
    started: Instant,
    inner: Arc<Mutex<Inner>>,
    changed: watch::Sender<u64>,
}

/// An entry among the open sessions. Dropping it removes the entry.
#[derive(Debug)]
pub struct SessionSlot {
    sessions: OpenSessions,
    peer: DeviceKey,
    id: u64,
    /// Has a reason when the session must stop.
    pub stop: watch::Receiver<Option<StopReason>>,
}

impl OpenSessions {
    /// No open sessions, on the device `own`.
    pub fn new(own: DeviceKey, trust: Trust) -> Self {
        Self {
            own,
            trust,
            started: Instant::now(),
            inner: Arc::new(Mutex::new(Inner {
                next_id: 0,
                next_level: 0,
                places: MAX_SESSIONS,
                open: BTreeMap::new(),
                resting: BTreeSet::new(),
                turnstile: Turnstile::default(),
            })),
            changed: watch::Sender::new(0),
        }
    }

    /// Allows so many sessions at a time instead of [`MAX_SESSIONS`].
    pub fn limit_places(&self, places: usize) {
        self.inner().places = places;
    }

    fn inner(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn notify(&self) {
        self.changed.send_modify(|count| *count += 1);
    }

    /// A receiver that is notified whenever a session changes its state.
    pub fn changes(&self) -> watch::Receiver<u64> {
        self.changed.subscribe()
    }

    /// Admits a connection with `peer` as a session. `dialled`: by this side.
    ///
    /// # Errors
    /// [`NotAdmitted`].
    pub fn admit(
        &self,
        peer: DeviceKey,
        dialled: bool,
        connection: &Arc<PeerConnection>,
    ) -> Result<SessionSlot, NotAdmitted> {
        let (stop, receiver) = watch::channel(None);
        let mut inner = self.inner();
        let now_ms = u64::try_from(self.started.elapsed().as_millis()).unwrap_or(u64::MAX);
        if let Some(open) = inner.open.get(&peer) {
            if !self.replaces(&peer, dialled, open.dialled) {
                open.connection.doubt();
                return Err(NotAdmitted::Duplicate);
            }
            open.stop.send_replace(Some(StopReason::Replaced));
        } else if !inner.make_room(now_ms) {
            let again_ms = inner.turnstile.wait_ms(now_ms);
            return Err(NotAdmitted::Busy { again_ms });
        }
        let id = inner.insert(peer, dialled, stop, connection);
        // Checked after the entry is inserted. If the roster changes meanwhile, either this check or `stop_untrusted` sees
        // both the entry and the new roster.
        if !self.trust.admits(&peer) {
            inner.open.remove(&peer);
            return Err(NotAdmitted::Untrusted);
        }
        drop(inner);
        Ok(SessionSlot {
            sessions: self.clone(),
            peer,
            id,
            stop: receiver,
        })
    }

    fn replaces(&self, peer: &DeviceKey, dialled: bool, old_dialled: bool) -> bool {
        if dialled == old_dialled {
            // A peer that dials again has lost its old connection. If this side dials again it still has the old one.
            return !dialled;
        }
        dialled == (self.own < *peer)
    }

    /// Stops the sessions of devices that are no longer trusted, because they were `retired` or otherwise, and returns those
    /// devices.
    pub fn stop_untrusted(&self, retired: &BTreeSet<DeviceKey>) -> Vec<DeviceKey> {
        let inner = self.inner();
        let gone = inner.open.iter().filter(|(peer, _)| !self.trust.admits(peer));
        gone.map(|(peer, entry)| {
            let why = if retired.contains(peer) {
                StopReason::Retired
            } else {
                StopReason::Untrusted
            };
            entry.stop.send_replace(Some(why));
            *peer
        })
        .collect()
    }

    /// Stops all sessions, because the process is shutting down.
    pub fn stop_all(&self) {
        let inner = self.inner();
        inner.open.values().for_each(|entry| {
            entry.stop.send_replace(Some(StopReason::Shutdown));
        });
    }

    /// The devices with which a session is up.
    pub fn up(&self) -> Vec<DeviceKey> {
        let inner = self.inner();
        inner.open.iter().filter(|(_, e)| e.up).map(|(peer, _)| *peer).collect()
    }

    /// Whether no session is open.
    pub fn is_empty(&self) -> bool {
        self.inner().open.is_empty()
    }

    /// Whether the session with `peer` is level: both sides hold the same, pictures included. `None`: there is no session.
    pub fn level(&self, peer: &DeviceKey) -> Option<bool> {
        self.inner().open.get(peer).map(|e| e.level.is_some())
    }

    /// Whether the last session with `peer` made room for another device, on this side or on the peer's.
    pub fn is_resting(&self, peer: &DeviceKey) -> bool {
        self.inner().resting.contains(peer)
    }

    /// Whether all places are taken.
    pub fn is_full(&self) -> bool {
        let inner = self.inner();
        inner.open.len() >= inner.places
    }

    /// Whether a session with `peer` is up.
    pub fn is_up(&self, peer: &DeviceKey) -> bool {
        self.inner().open.get(peer).is_some_and(|e| e.up)
    }
}

impl SessionSlot {
    /// The first exchange message was received.
    pub fn set_up(&self) {
        self.change(|entry| !std::mem::replace(&mut entry.up, true));
    }

    /// Notes whether both sides hold the same.
    pub fn set_level(&self, level: bool) {
        let mut inner = self.sessions.inner();
        let since = inner.next_level;
        inner.next_level += 1;
        drop(inner);
        self.change(|entry| {
            let changes = entry.level.is_some() != level;
            if changes {
                entry.level = level.then_some(since);
            }
            changes
        });
    }

    /// Notes whether the peer has nothing more to send.
    pub fn set_delivered(&self, delivered: bool) {
        self.change(|entry| {
            entry.delivered = delivered;
            false
        });
    }

    /// Notes that this session made room for another device.
    pub fn set_resting(&self) {
        self.sessions.inner().resting.insert(self.peer);
    }

    fn change(&self, change: impl FnOnce(&mut Entry) -> bool) {
        let mut inner = self.sessions.inner();
        let entry = inner.open.get_mut(&self.peer).filter(|e| e.id == self.id);
        let changed = entry.is_some_and(change);
        drop(inner);
        if changed {
            self.sessions.notify();
        }
    }
}

impl Drop for SessionSlot {
    fn drop(&mut self) {
        let mut inner = self.sessions.inner();
        if inner.open.get(&self.peer).is_some_and(|e| e.id == self.id) {
            inner.open.remove(&self.peer);
        }
        drop(inner);
        self.sessions.notify();
    }
}

#[cfg(test)]
#[path = "open_sessions_tests.rs"]
mod tests;
