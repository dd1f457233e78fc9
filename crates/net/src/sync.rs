//! Merging once: with one peer, or with everyone who can be reached.
//!
//! While a daemon runs its open sessions are used: they pass things on by themselves, so there is only to wait until both sides
//! hold the same. Whoever has no session is dialled for the occasion.

use std::collections::{BTreeMap, BTreeSet};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use gladhand_facts::DeviceKey;
use tokio::sync::mpsc;

use crate::dial::{self, DialError, Dialled, Target};
use crate::discovery::{self, Discovery, News, hash_of, own_networks};
use crate::error::NetError;
use crate::hub::Hub;
use crate::session::{End, Tally};

/// How long to look for peers on the local link.
pub const LOOK: Duration = Duration::from_secs(2);
/// How long an open session may stand still before it is level.
const LEVEL: Duration = Duration::from_secs(60);
/// How long a session that was lost may take to come back.
const BACK: Duration = Duration::from_secs(3);

/// The networks that run in this process, by home: a command that the daemon runs finds the daemon's.
static RUNNING: Mutex<BTreeMap<PathBuf, Hub>> = Mutex::new(BTreeMap::new());

/// A network that can be found by its home, until it is dropped.
pub struct Findable(PathBuf);

impl Findable {
    pub(crate) async fn new(hub: &Hub) -> Result<Self, NetError> {
        let home = hub.node.call(|node| node.home().layout().path().to_path_buf()).await?;
        RUNNING
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .insert(home.clone(), hub.clone());
        Ok(Self(home))
    }
}

impl Drop for Findable {
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

/// Whom to merge with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Whom {
    /// This device.
    Device(DeviceKey),
    /// Whoever of the roster listens there.
    Place(String),
    /// Everyone who can be reached.
    Everyone,
}

/// What came of one merge.
#[derive(Debug)]
pub struct Merged {
    /// Whom it was with, as it was found: a place or the beginning of a key.
    pub with: String,
    /// The device, if it answered.
    pub peer: Option<DeviceKey>,
    /// What the session did, or why there was none.
    pub outcome: Result<Tally, DialError>,
}

/// Merges. `places` are the configured peers, `discover` whether the local link may be looked at.
pub async fn sync(hub: &Hub, whom: &Whom, places: &[String], discover: bool) -> Vec<Merged> {
    let known = reached_before(hub, places);
    if let Whom::Device(key) = whom {
        let first = merge(hub, Target::Device(*key), &known, whom).await;
        let unreachable = |m: &Merged| matches!(m.outcome, Err(DialError::Unreachable(_)));
        if !discover || !first.as_ref().is_some_and(unreachable) {
            return first.into_iter().collect();
        }
    }
    let found = match whom {
        Whom::Place(_) => Found::new(),
        _ if discover => look(hub, known).await,
        _ => Found::new(),
    };
    let mut done = Vec::new();
    let mut met = BTreeSet::new();
    for target in targets(hub, whom, places, &found) {
        if matches!(target, Target::Device(key) if met.contains(&key)) {
            continue;
        }
        let merged = merge(hub, target, &found, whom).await;
        if let Some(merged) = merged.filter(|m| m.peer.is_none_or(|peer| met.insert(peer))) {
            done.push(merged);
        }
    }
    done
}

/// Where devices of the roster were reached before, as far as that is configured, this machine, or on the local link now: the same
/// address in another yard's network is somebody else's.
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
            let up = hub.live.up().into_iter().map(Target::Device);
            let places = places.iter().map(|place| Target::Place(place.clone()));
            up.chain(places)
                .chain(found.keys().map(|key| Target::Device(*key)))
                .collect()
        }
    }
}

/// `None`: nothing worth telling (one of many configured ways to a device that was merged with).
async fn merge(hub: &Hub, target: Target, found: &Found, whom: &Whom) -> Option<Merged> {
    if let Target::Device(key) = target
        && hub.live.is_up(&key)
    {
        return Some(wait_level(hub, key).await);
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
            if matches!(end, End::NotNow(_)) || (!tally.level && hub.live.is_up(&peer)) {
                return Some(wait_level(hub, peer).await);
            }
            let outcome = if tally.level {
                Ok(tally)
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
            peer: None,
            outcome: Err(error),
        }),
    }
}

/// Waits until the open session with `peer` is level.
async fn wait_level(hub: &Hub, peer: DeviceKey) -> Merged {
    let mut changes = hub.live.changes();
    let level = async {
        loop {
            match hub.live.level(&peer) {
                Some(true) => {
                    return Ok(Tally {
                        up: true,
                        level: true,
                        ..Tally::default()
                    });
                }
                Some(false) => {}
                // Two dials that cross may end each other; the daemon dials again at once.
                None if tokio::time::timeout(BACK, changes.changed()).await.is_err() => {
                    return Err(DialError::Unreachable("the session was lost".into()));
                }
                None => continue,
            }
            if changes.changed().await.is_err() {
                return Err(DialError::Unreachable("the network is shutting down".into()));
            }
        }
    };
    let slow = || DialError::Unreachable("the session is open, but not level yet".into());
    let mut level = std::pin::pin!(level);
    let mut before = moved(hub);
    let outcome = loop {
        let timed = tokio::time::timeout(LEVEL, &mut level).await;
        let now = moved(hub);
        match timed {
            Ok(outcome) => break outcome,
            // A large picture over a poor link takes its time.
            Err(_) if now > before => before = now,
            Err(_) => break Err(slow()),
        }
    };
    Merged {
        with: peer.short(),
        peer: Some(peer),
        outcome,
    }
}

/// What has come in and gone out: entries and bytes of pictures.
fn moved(hub: &Hub) -> u64 {
    let counters = &hub.counters;
    let counters = [
        &counters.entries_in,
        &counters.entries_out,
        &counters.picture_bytes_in,
        &counters.picture_bytes_out,
    ];
    counters.into_iter().map(|counter| counter.get()).sum()
}

/// Looks at the local link for a moment, and adds who of the roster is there to those whose addresses are known.
async fn look(hub: &Hub, mut found: Found) -> Found {
    let (news_in, mut news) = mpsc::channel(64);
    let Ok(_discovery) = Discovery::start(&hub.own, None, news_in) else {
        return found;
    };
    let trusted = hub.trust.keys();
    let collect = async {
        while let Some(item) = news.recv().await {
            if let News::Found { hash, at } = item
                && let Some(key) = trusted.iter().find(|key| hash_of(key) == hash)
            {
                found.entry(*key).or_default().extend(at);
            }
        }
    };
    tokio::time::timeout(LOOK, collect).await.ok();
    found
}
