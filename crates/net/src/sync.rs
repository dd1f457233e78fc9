//! Merging once: with one peer, or with all reachable peers.
//!
//! If the daemon has a session with the peer, this only waits until that session is level (both sides hold the same), because an
//! open session passes everything on by itself. A peer without a session is dialled for one merge.
//!
//! Deliberately absent: words for people; [`Merged`] has what happened.

use std::collections::{BTreeMap, BTreeSet};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use gladhand_facts::DeviceKey;
use tokio::sync::{mpsc, watch};
use tokio::time::Instant;

use crate::dial::{self, DialError, Dialled, Target};
use crate::discovery::{self, Discovery, DiscoveryEvent, hash_of, own_networks};
use crate::error::NetError;
use crate::hub::Hub;
use crate::open_sessions::NotAdmitted;
use crate::packet::ByeReason;
use crate::session::{End, Tally};

/// How long discovery looks for peers on the local link.
pub const LOOK: Duration = Duration::from_secs(2);
/// How long an open session may transfer nothing before it is level.
const LEVEL_STALL: Duration = Duration::from_secs(60);
/// How long a peer that is busy is asked again.
pub const BUSY_PATIENCE: Duration = Duration::from_secs(120);
/// The wait after a busy peer that said no time, and the longest between two attempts.
const BUSY_WAITS: (Duration, Duration) = (Duration::from_secs(3), Duration::from_secs(20));
/// How long a lost session may take to be opened again.
const REOPEN: Duration = Duration::from_secs(3);

/// The networks that run in this process, by home. A command that runs inside the daemon finds the daemon's network here.
static RUNNING: Mutex<BTreeMap<PathBuf, Hub>> = Mutex::new(BTreeMap::new());

/// Keeps a network in [`RUNNING`] until it is dropped.
pub struct Registration(PathBuf);

impl Registration {
    pub(crate) async fn new(hub: &Hub) -> Result<Self, NetError> {
        let home = hub.node.call(|node| node.home().layout().path().to_path_buf()).await?;
        RUNNING
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .insert(home.clone(), hub.clone());
        Ok(Self(home))
    }
}

impl Drop for Registration {
    fn drop(&mut self) {
        RUNNING.lock().unwrap_or_else(PoisonError::into_inner).remove(&self.0);
    }
}

/// The network that runs in this process for `home`.
pub fn running(home: &Path) -> Option<Hub> {
    RUNNING
        .lock()
        .unwrap_or_else(PoisonError::into_inner)
        .get(home)
        .cloned()
}

/// Which peers to merge with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Whom {
    /// This device.
    Device(DeviceKey),
    /// Any device of the roster that listens at this `host:port`.
    Place(String),
    /// All reachable peers.
    Everyone,
}

/// The outcome of one merge.
#[derive(Debug)]
pub struct Merged {
    /// The peer as it was addressed: a place or the beginning of a key.
    pub with: String,
    /// The device, if it answered.
    pub peer: Option<DeviceKey>,
    /// What the session did, or why there was none.
    pub outcome: Result<Tally, DialError>,
}

/// A peer has no free place, and is asked again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BusyPeer {
    /// The peer.
    pub peer: DeviceKey,
    /// How long until it is asked again.
    pub again_in: Duration,
}

/// Whom to tell that a peer is busy.
pub type OnBusy<'a> = &'a (dyn Fn(BusyPeer) + Send + Sync);

/// Merges with the chosen peers. `places` are the configured ones; `discover` allows discovery on the local link. A busy peer is
/// asked again for at most [`BUSY_PATIENCE`].
pub async fn sync(hub: &Hub, whom: &Whom, places: &[String], discover: bool) -> Vec<Merged> {
    sync_telling(hub, whom, (places, discover), &|_| {}).await
}

/// As [`sync`], and calls `on_busy` before each wait for a busy peer.
pub async fn sync_telling(
    hub: &Hub,
    whom: &Whom,
    (places, discover): (&[String], bool),
    on_busy: OnBusy<'_>,
) -> Vec<Merged> {
    let known = reached_before(hub, places);
    if let Whom::Device(key) = whom {
        let first = merge_patiently(hub, &Target::Device(*key), &known, (whom, on_busy)).await;
        let unreachable = |m: &Merged| matches!(m.outcome, Err(DialError::Unreachable(_)));
        if !discover || !first.as_ref().is_some_and(unreachable) {
            return first.into_iter().collect();
        }
    }
    let found = match whom {
        Whom::Place(_) => Found::new(),
        _ if discover => discover_on_link(hub, known).await,
        _ => Found::new(),
    };
    let mut done = Vec::new();
    let mut met = BTreeSet::new();
    for target in targets(hub, whom, places, &found) {
        if matches!(target, Target::Device(key) if met.contains(&key)) {
            continue;
        }
        let merged = merge_patiently(hub, &target, &found, (whom, on_busy)).await;
        if let Some(merged) = merged.filter(|m| m.peer.is_none_or(|peer| met.insert(peer))) {
            done.push(merged);
        }
    }
    done
}

/// The addresses at which devices of the roster were reached before. Only those that are configured, on this machine, or on the
/// local link now: in another yard's network the same address belongs to another machine.
fn reached_before(hub: &Hub, places: &[String]) -> Found {
    let networks = own_networks();
    let near = |a: &SocketAddr| {
        a.ip().is_loopback() || discovery::is_on_link(&a.ip(), &networks) || places.contains(&a.to_string())
    };
    let trusted = hub.trust.keys();
    let others = trusted.iter().filter(|key| **key != hub.own);
    let reached = others.map(|key| (*key, hub.addresses_of(key).into_iter().filter(near).collect::<Vec<_>>()));
    reached.filter(|(_, addresses)| !addresses.is_empty()).collect()
}

type Found = BTreeMap<DeviceKey, Vec<SocketAddr>>;

fn targets(hub: &Hub, whom: &Whom, places: &[String], found: &Found) -> Vec<Target> {
    match whom {
        Whom::Device(key) => vec![Target::Device(*key)],
        Whom::Place(place) => vec![Target::Place(place.clone())],
        Whom::Everyone => {
            let up = hub.sessions.up().into_iter().map(Target::Device);
            let places = places.iter().map(|place| Target::Place(place.clone()));
            up.chain(places)
                .chain(found.keys().map(|key| Target::Device(*key)))
                .collect()
        }
    }
}

/// Merges with one target, and asks again while it is busy.
async fn merge_patiently(
    hub: &Hub,
    target: &Target,
    found: &Found,
    (whom, on_busy): (&Whom, OnBusy<'_>),
) -> Option<Merged> {
    let until = Instant::now() + BUSY_PATIENCE;
    loop {
        let merged = merge(hub, target.clone(), found, whom).await?;
        let Err(DialError::Busy { peer, again_ms, .. }) = &merged.outcome else {
            return Some(merged);
        };
        let (unsaid, longest) = BUSY_WAITS;
        let again_in = again_ms.map_or(unsaid, Duration::from_millis).min(longest);
        if Instant::now() + again_in > until {
            return Some(merged);
        }
        on_busy(BusyPeer { peer: *peer, again_in });
        tokio::time::sleep(again_in).await;
    }
}

/// Merges with one target. `None`: another key answered than expected, which is no failure when merging with everyone.
async fn merge(hub: &Hub, target: Target, found: &Found, whom: &Whom) -> Option<Merged> {
    if let Target::Device(key) = target
        && hub.sessions.is_up(&key)
        && let Some(merged) = wait_level(hub, key).await
    {
        return Some(merged);
    }
    let addresses = match &target {
        Target::Device(key) => Ok(found.get(key).cloned().unwrap_or_default()),
        Target::Place(place) => dial::resolve(place).await,
    };
    let dialled = match addresses {
        Ok(addresses) => dial::dial(hub, &target, &addresses, true).await,
        Err(error) => Err(error),
    };
    let with = target.to_string();
    match dialled {
        Ok(Dialled { peer, tally, end, .. }) => {
            if matches!(end, End::NotAdmitted(NotAdmitted::Duplicate)) || (!tally.level && hub.sessions.is_up(&peer)) {
                return wait_level(hub, peer).await.or_else(|| made_room(with, peer));
            }
            let outcome = if tally.level {
                Ok(tally)
            } else if let End::Bye { why, words } = &end
                && matches!(why, ByeReason::MakeRoom | ByeReason::TakeTurns)
            {
                // Others take their turn; this side comes again for the rest.
                Err(DialError::Busy {
                    peer,
                    again_ms: tally.again_ms,
                    words: words.clone(),
                })
            } else {
                Err(DialError::Unreachable(format!("{with}: {end}")))
            };
            Some(Merged {
                with,
                peer: Some(peer),
                outcome,
            })
        }
        Err(DialError::WrongKey(_)) if *whom == Whom::Everyone => None,
        Err(error) => Some(Merged {
            with,
            peer: match error {
                DialError::Busy { peer, .. } => Some(peer),
                _ => None,
            },
            outcome: Err(error),
        }),
    }
}

/// A session that another device's needed the place of while it was waited for: it is tried again as with a busy peer.
fn made_room(with: String, peer: DeviceKey) -> Option<Merged> {
    let outcome = Err(DialError::Busy {
        peer,
        again_ms: None,
        words: "another device needed the place".into(),
    });
    let peer = Some(peer);
    Some(Merged { with, peer, outcome })
}

/// Waits until the open session with `peer` is level. `None`: it made room for another device.
async fn wait_level(hub: &Hub, peer: DeviceKey) -> Option<Merged> {
    let mut changes = hub.sessions.changes();
    let level = until_level(hub, peer, &mut changes);
    let slow = || DialError::Unreachable("the session is open, but not level yet".into());
    let mut level = std::pin::pin!(level);
    let mut before = transferred(hub);
    let outcome = loop {
        let timed = tokio::time::timeout(LEVEL_STALL, &mut level).await;
        let now = transferred(hub);
        match timed {
            Ok(outcome) => break outcome.transpose()?,
            // A large picture over a poor link may take long: as long as something is transferred, wait.
            Err(_) if now > before => before = now,
            Err(_) => break Err(slow()),
        }
    };
    Some(Merged {
        with: peer.short(),
        peer: Some(peer),
        outcome,
    })
}

async fn until_level(
    hub: &Hub,
    peer: DeviceKey,
    changes: &mut watch::Receiver<u64>,
) -> Result<Option<Tally>, DialError> {
    loop {
        match hub.sessions.level(&peer) {
            Some(true) => {
                let (up, level) = (true, true);
                return Ok(Some(Tally {
                    up,
                    level,
                    ..Tally::default()
                }));
            }
            Some(false) => {}
            None if hub.sessions.is_resting(&peer) => return Ok(None),
            // Two crossing dials may close each other; the daemon dials again at once.
            None if tokio::time::timeout(REOPEN, changes.changed()).await.is_err() => {
                return Err(DialError::Unreachable("the session was lost".into()));
            }
            None => continue,
        }
        if changes.changed().await.is_err() {
            return Err(DialError::Unreachable("the network is shutting down".into()));
        }
    }
}

/// A count that grows with every entry and every byte of a picture that is transferred.
fn transferred(hub: &Hub) -> u64 {
    let counters = &hub.counters;
    let counters = [
        &counters.entries_in,
        &counters.entries_out,
        &counters.picture_bytes_in,
        &counters.picture_bytes_out,
    ];
    counters.into_iter().map(|counter| counter.get()).sum()
}

/// Adds the devices of the roster that discovery finds on the local link within [`LOOK`].
async fn discover_on_link(hub: &Hub, mut found: Found) -> Found {
    let (events_in, mut events) = mpsc::channel(64);
    let Ok(_discovery) = Discovery::start(&hub.own, None, events_in) else {
        return found;
    };
    let trusted = hub.trust.keys();
    let collect = async {
        while let Some(item) = events.recv().await {
            if let DiscoveryEvent::Found { hash, at } = item
                && let Some(key) = trusted.iter().find(|key| hash_of(key) == hash)
            {
                found.entry(*key).or_default().extend(at);
            }
        }
    };
    tokio::time::timeout(LOOK, collect).await.ok();
    found
}
