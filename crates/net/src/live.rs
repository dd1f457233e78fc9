//! The sessions that are open: at most one with each device, at most [`MAX_SESSIONS`] in all, and each can be ended at once.
//!
//! Two devices that discover each other dial each other. Of two connections the one that the device with the smaller key
//! dialled stays: both sides decide alike, so neither loses both. A connection is "up" when its first reply is in: in TLS 1.3 the side
//! that dials is told late that it is not welcome.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use gladhand_facts::DeviceKey;
use tokio::sync::watch;

use crate::connection::PeerConnection;
use crate::trust::Trust;

/// How many sessions may be open.
pub const MAX_SESSIONS: usize = 64;

/// Why a connection does not become a session.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NotNow {
    /// There is one with that device.
    #[error("there is a session with this device already")]
    Duplicate,
    /// There are too many.
    #[error("{MAX_SESSIONS} sessions are open already")]
    Busy,
    /// The device is not on the roster (any more).
    #[error("the device is not on the roster")]
    Untrusted,
}

/// Why a session is ended from outside.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// The device was retired, or its enrolment turned out void.
    Untrusted,
    /// Another connection with the same device took its place.
    Replaced,
    /// This side is shutting down.
    Shutdown,
}

#[derive(Debug)]
struct Entry {
    id: u64,
    dialled: bool,
    up: bool,
    level: bool,
    end: watch::Sender<Option<Ending>>,
    connection: Arc<PeerConnection>,
}

#[derive(Debug, Default)]
struct Inner {
    next_id: u64,
    open: BTreeMap<DeviceKey, Entry>,
}

/// The sessions that are open.
#[derive(Debug, Clone)]
pub struct Live {
    own: DeviceKey,
    trust: Trust,
    inner: Arc<Mutex<Inner>>,
    changed: watch::Sender<u64>,
}

/// A place among the open sessions; dropping it gives it back.
#[derive(Debug)]
pub struct Ticket {
    live: Live,
    peer: DeviceKey,
    id: u64,
    /// Told when the session must end.
    pub end: watch::Receiver<Option<Ending>>,
}

impl Live {
    /// None yet, on the device `own`.
    pub fn new(own: DeviceKey, trust: Trust) -> Self {
        Self {
            own,
            trust,
            inner: Arc::default(),
            changed: watch::Sender::new(0),
        }
    }

    fn inner(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn tell(&self) {
        self.changed.send_modify(|count| *count += 1);
    }

    /// Told whenever a session comes up or ends.
    pub fn changes(&self) -> watch::Receiver<u64> {
        self.changed.subscribe()
    }

    /// A place for a connection with `peer`, which this side has `dialled`, or not.
    ///
    /// # Errors
    /// [`NotNow`].
    pub fn enter(&self, peer: DeviceKey, dialled: bool, connection: &Arc<PeerConnection>) -> Result<Ticket, NotNow> {
        let (end, receiver) = watch::channel(None);
        let mut inner = self.inner();
        if let Some(open) = inner.open.get(&peer) {
            if !self.replaces(&peer, dialled, open.dialled) {
                open.connection.doubt();
                return Err(NotNow::Duplicate);
            }
            open.end.send_replace(Some(Ending::Replaced));
        } else if inner.open.len() >= MAX_SESSIONS {
            return Err(NotNow::Busy);
        }
        inner.next_id += 1;
        let id = inner.next_id;
        let entry = Entry {
            id,
            dialled,
            up: false,
            level: false,
            end,
            connection: Arc::clone(connection),
        };
        inner.open.insert(peer, entry);
        // Looked at after it can be found by `retain`: whichever comes second sees the other.
        if !self.trust.admits(&peer) {
            inner.open.remove(&peer);
            return Err(NotNow::Untrusted);
        }
        drop(inner);
        Ok(Ticket {
            live: self.clone(),
            peer,
            id,
            end: receiver,
        })
    }

    fn replaces(&self, peer: &DeviceKey, dialled: bool, old_dialled: bool) -> bool {
        if dialled == old_dialled {
            // A peer that dials again has lost its old one. We would know if we had lost ours.
            return !dialled;
        }
        dialled == (self.own < *peer)
    }

    /// Ends the sessions of all that are not trusted any more.
    pub fn drop_untrusted(&self) -> Vec<DeviceKey> {
        let inner = self.inner();
        let gone = inner.open.iter().filter(|(peer, _)| !self.trust.admits(peer));
        gone.map(|(peer, entry)| {
            entry.end.send_replace(Some(Ending::Untrusted));
            *peer
        })
        .collect()
    }

    /// Ends all.
    pub fn end_all(&self) {
        let inner = self.inner();
        inner.open.values().for_each(|entry| {
            entry.end.send_replace(Some(Ending::Shutdown));
        });
    }

    /// The devices with which a session is up.
    pub fn up(&self) -> Vec<DeviceKey> {
        let inner = self.inner();
        inner.open.iter().filter(|(_, e)| e.up).map(|(peer, _)| *peer).collect()
    }

    /// Whether none is open.
    pub fn is_empty(&self) -> bool {
        self.inner().open.is_empty()
    }

    /// Whether the session with `peer` is level; `None`: there is none.
    pub fn level(&self, peer: &DeviceKey) -> Option<bool> {
        self.inner().open.get(peer).map(|e| e.level)
    }

    /// Whether a session with `peer` is up.
    pub fn is_up(&self, peer: &DeviceKey) -> bool {
        self.inner().open.get(peer).is_some_and(|e| e.up)
    }
}

impl Ticket {
    /// The first reply is in.
    pub fn confirm(&self) {
        self.note(|entry| &mut entry.up, true);
    }

    /// Both sides hold the same now, or not any more.
    pub fn set_level(&self, level: bool) {
        self.note(|entry| &mut entry.level, level);
    }

    fn note(&self, which: impl FnOnce(&mut Entry) -> &mut bool, value: bool) {
        let mut inner = self.live.inner();
        let entry = inner.open.get_mut(&self.peer).filter(|e| e.id == self.id);
        let changed = entry.is_some_and(|entry| std::mem::replace(which(entry), value) != value);
        drop(inner);
        if changed {
            self.live.tell();
        }
    }
}

impl Drop for Ticket {
    fn drop(&mut self) {
        let mut inner = self.live.inner();
        if inner.open.get(&self.peer).is_some_and(|e| e.id == self.id) {
            inner.open.remove(&self.peer);
        }
        drop(inner);
        self.live.tell();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    fn key(n: usize) -> DeviceKey {
        let mut bytes = [0; 32];
        bytes[..8].copy_from_slice(&n.to_be_bytes());
        DeviceKey(bytes)
    }

    fn live(own: usize) -> (Live, Trust) {
        let trust = Trust::default();
        trust.set((0..200).map(key).collect::<BTreeSet<_>>());
        (Live::new(key(own), trust.clone()), trust)
    }

    #[tokio::test]
    async fn of_two_crossing_dials_both_sides_keep_the_same() {
        for first_dialled in [false, true] {
            let (small, large) = (live(1).0, live(2).0);
            let connection = Arc::new(PeerConnection::new());
            // Connection X was dialled by the small key, Y by the large one; each side meets them in either order.
            let x = small.enter(key(2), true, &connection);
            let y = small.enter(key(2), false, &connection);
            assert!(x.is_ok() && matches!(y, Err(NotNow::Duplicate)));
            let (first, second) = if first_dialled { (true, false) } else { (false, true) };
            let a = large.enter(key(1), first, &connection).unwrap();
            let b = large.enter(key(1), second, &connection);
            if first_dialled {
                assert!(b.is_ok() && *a.end.borrow() == Some(Ending::Replaced));
            } else {
                assert!(b.is_err() && a.end.borrow().is_none());
            }
        }
    }

    #[tokio::test]
    async fn a_retired_device_ends_at_once_and_does_not_come_back() {
        let (live, trust) = live(1);
        let connection = Arc::new(PeerConnection::new());
        let ticket = live.enter(key(5), false, &connection).unwrap();
        let other = live.enter(key(6), false, &connection).unwrap();
        ticket.confirm();
        assert_eq!(live.up(), [key(5)]);
        trust.set(BTreeSet::from([key(6)]));
        assert_eq!(live.drop_untrusted(), [key(5)]);
        assert_eq!(*ticket.end.borrow(), Some(Ending::Untrusted));
        assert!(other.end.borrow().is_none());
        drop(ticket);
        assert!(matches!(live.enter(key(5), false, &connection), Err(NotNow::Untrusted)));
        assert!(live.up().is_empty());
    }

    #[tokio::test]
    async fn there_is_an_end_to_sessions() {
        let (live, _) = live(199);
        let connection = Arc::new(PeerConnection::new());
        let mut tickets: Vec<Ticket> = (0..MAX_SESSIONS)
            .map(|n| live.enter(key(n), false, &connection).unwrap())
            .collect();
        assert!(matches!(live.enter(key(100), false, &connection), Err(NotNow::Busy)));
        assert!(
            live.enter(key(3), false, &connection).is_ok(),
            "whoever comes back takes its own place"
        );
        tickets.pop();
        assert!(live.enter(key(100), false, &connection).is_ok());
    }
}
