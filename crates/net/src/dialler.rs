//! Keeps sessions with all known peers: which peers to dial, and dialling them when [`super::redial`] says so.
//!
//! Targets are the configured places and, with discovery on, the devices of the roster that were found on the local link or
//! reached before.
//!
//! Deliberately not here: the waiting times ([`super::redial`]), and the dial itself ([`super::dial`]).
//!
//! Invariants: a device that is not on the roster is never dialled because it was discovered; without discovery only
//! configured places are dialled; a target has at most one dial under way.

use std::collections::{BTreeMap, BTreeSet};
use std::net::SocketAddr;

use gladhand_facts::DeviceKey;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinSet;
use tokio::time::{Duration, Instant};

use crate::addresses::FoundAddresses;
use crate::dial::{self, DialError, Dialled, Target};
use crate::discovery::{self, DiscoveryEvent, hash_of, own_networks};
use crate::hub::Hub;
use crate::open_sessions::{NotAdmitted, REST_MS, StopReason};
use crate::packet::ByeReason;
use crate::redial::{Event, Phase, Redial};
use crate::session::End;
use gladhand_node::environment;

/// How long to sleep when no dial is due. Every change wakes the dialler earlier, so this is only an upper bound.
const IDLE_WAIT_MS: u64 = 600_000;

/// Dials all targets, again and again.
pub struct Dialler {
    hub: Hub,
    discover: bool,
    started: Instant,
    targets: BTreeMap<Target, Redial>,
    /// Which device answered at a configured place.
    keys: BTreeMap<Target, DeviceKey>,
    /// The addresses that were discovered, by hash of the device's key.
    found: BTreeMap<String, FoundAddresses>,
    dials: JoinSet<(Target, Result<Dialled, DialError>)>,
    dialling: BTreeSet<Target>,
    /// A session has made room since the last look for news.
    rest_began: bool,
    /// Random numbers that spread the dials of many devices.
    random: Box<dyn FnMut() -> u64 + Send>,
}

/// With how many discovered devices this side keeps sessions of its own accord, besides the depot. In a full yard everybody
/// finds everybody: what one tells a few reaches all, and with all of them everybody would need as many sessions as there are.
const MAX_NEIGHBOURS: usize = 16;

/// How many discovered hashes are remembered. Any device on the link can publish hashes.
const MAX_FOUND: usize = 1_024;

impl Dialler {
    /// A dialler for these configured places.
    pub fn new(hub: Hub, places: &[String], discover: bool) -> Self {
        let mut dialler = Self {
            hub,
            discover,
            started: Instant::now(),
            targets: BTreeMap::new(),
            keys: BTreeMap::new(),
            found: BTreeMap::new(),
            dials: JoinSet::new(),
            dialling: BTreeSet::new(),
            rest_began: false,
            random: Box::new(random),
        };
        for place in places.iter().map(|p| p.trim()).filter(|p| !p.is_empty()) {
            dialler.add_target(Target::Place(place.to_owned()));
        }
        dialler
    }

    /// The same dialler, with waits spread by `random` instead of the system's randomness.
    #[must_use]
    pub fn with_random(mut self, random: impl FnMut() -> u64 + Send + 'static) -> Self {
        self.random = Box::new(random);
        self
    }

    fn now_ms(&self) -> u64 {
        u64::try_from(self.started.elapsed().as_millis()).unwrap_or(u64::MAX)
    }

    fn apply(&mut self, target: &Target, event: Event) {
        let now_ms = self.now_ms();
        if let Some(redial) = self.targets.get_mut(target) {
            redial.on(event, now_ms, (self.random)());
        }
    }

    /// Notes that a session was open for `lasted` until now.
    fn note_up_for(&mut self, target: &Target, lasted: Duration) {
        let lasted_ms = u64::try_from(lasted.as_millis()).unwrap_or(u64::MAX);
        let since_ms = self.now_ms().saturating_sub(lasted_ms);
        if let Some(redial) = self.targets.get_mut(target) {
            redial.on(Event::Up, since_ms, 0);
        }
    }

    fn add_target(&mut self, target: Target) {
        self.targets.entry(target.clone()).or_default();
        self.apply(&target, Event::Heard);
    }

    /// Dials until the future is dropped.
    pub async fn run(mut self, mut discovery: mpsc::Receiver<DiscoveryEvent>) {
        let mut sessions = self.hub.sessions.changes();
        let mut trust = self.hub.trust.changes();
        let mut discovery_open = true;
        let mut growth = growth_of(&self.hub).await;
        self.refresh_targets();
        loop {
            self.follow_sessions();
            self.dial_due();
            let rest_began = std::mem::take(&mut self.rest_began);
            if let Some(growth) = growth.as_mut().filter(|_| rest_began) {
                // Something may have been recorded while the session ended.
                growth.mark_changed();
            }
            let wake = self.targets.values().filter_map(Redial::wake_at_ms).min();
            let at = self.started + Duration::from_millis(wake.unwrap_or_else(|| self.now_ms() + IDLE_WAIT_MS));
            tokio::select! {
                biased;
                Some(done) = self.dials.join_next(), if !self.dials.is_empty() => {
                    if let Ok((target, outcome)) = done {
                        self.finished(&target, outcome);
                    }
                }
                item = discovery.recv(), if discovery_open => match item {
                    Some(item) => self.on_discovery(item),
                    None => discovery_open = false,
                },
                changed = sessions.changed() => if changed.is_err() { return },
                changed = trust.changed() => {
                    if changed.is_err() { return }
                    self.refresh_targets();
                }
                grown = changed(&mut growth), if self.is_resting() => {
                    if !grown { growth = growth_of(&self.hub).await; }
                    self.look_for_news().await;
                }
                () = tokio::time::sleep_until(at) => {}
            }
        }
    }

    /// Whether this side stays away from a peer because others needed the place.
    fn is_resting(&self) -> bool {
        self.targets.values().any(Redial::is_resting)
    }

    /// Goes back sooner to the peers that lack something that this device recorded. What others recorded can wait: they bring it
    /// themselves, and if every device came back because of it, all would come at once.
    async fn look_for_news(&mut self) {
        let own_log = |node: &mut gladhand_node::Node| {
            let book = node.book();
            book.own_log().map(|log| (log, book.head(&log).0))
        };
        let Ok(Some((log, last))) = self.hub.node.call(own_log).await else {
            return;
        };
        let resting = self.targets.iter().filter(|(_, redial)| redial.is_resting());
        let resting: Vec<_> = resting
            .filter_map(|(target, _)| Some((target.clone(), self.key_of(target)?)))
            .collect();
        for (target, key) in resting {
            if last > self.hub.addresses(|book| book.held_by(&key, &log)) {
                self.apply(&target, Event::News);
            }
        }
    }

    /// The device that answers at a target, if that is known.
    fn key_of(&self, target: &Target) -> Option<DeviceKey> {
        match target {
            Target::Device(key) => Some(*key),
            Target::Place(_) => self.keys.get(target).copied(),
        }
    }

    /// Adds the devices of the roster that have a known address, and removes the devices that left the roster.
    fn refresh_targets(&mut self) {
        let trusted = self.hub.trust.keys();
        self.targets.retain(|target, _| match target {
            Target::Device(key) => trusted.contains(key),
            Target::Place(_) => true,
        });
        if !self.discover {
            return;
        }
        let own = self.hub.own;
        for key in trusted.iter().filter(|key| **key != own) {
            let target = Target::Device(*key);
            if !self.targets.contains_key(&target) && !self.addresses(&target).is_empty() {
                self.add_target(target);
            }
        }
    }

    fn on_discovery(&mut self, event: DiscoveryEvent) {
        match event {
            DiscoveryEvent::Found { hash, at } => {
                if self.found.len() < MAX_FOUND || self.found.contains_key(&hash) {
                    self.found.entry(hash.clone()).or_default().merge(&at);
                }
                let trusted = self.hub.trust.keys();
                let found = trusted.iter().find(|key| hash_of(key) == hash);
                if let Some(key) = found.filter(|key| **key != self.hub.own) {
                    self.add_target(Target::Device(*key));
                }
            }
            DiscoveryEvent::LinkChanged => {
                let all: Vec<Target> = self.targets.keys().cloned().collect();
                all.iter().for_each(|target| self.apply(target, Event::LinkChanged));
            }
        }
    }

    /// The addresses of a device: where it was reached before, then where it was discovered. Only those on the local link.
    fn addresses(&self, target: &Target) -> Vec<SocketAddr> {
        let Target::Device(key) = target else { return Vec::new() };
        let networks = own_networks();
        let mut all = self.hub.addresses_of(key);
        all.extend(self.found.get(&hash_of(key)).into_iter().flat_map(FoundAddresses::iter));
        let mut seen = BTreeSet::new();
        all.retain(|a| discovery::is_on_link(&a.ip(), &networks) && seen.insert(*a));
        all
    }

    /// Updates the targets from the open sessions: a peer with a session is up, no matter which side dialled.
    fn follow_sessions(&mut self) {
        let known: Vec<(Target, Phase, DeviceKey)> = self
            .targets
            .iter()
            .filter_map(|(t, redial)| Some((t.clone(), redial.phase(), self.key_of(t)?)))
            .collect();
        for (target, phase, key) in known {
            let up = self.hub.sessions.is_up(&key);
            match phase {
                Phase::Up { .. } if !up && !self.dialling.contains(&target) => {
                    let rest_ms = REST_MS;
                    let rests = self.hub.sessions.is_resting(&key);
                    self.rest_began |= rests;
                    self.apply(
                        &target,
                        if rests {
                            Event::MadeRoom { rest_ms }
                        } else {
                            Event::Lost
                        },
                    );
                }
                Phase::Waiting { .. } | Phase::Asleep | Phase::Dialling if up => self.apply(&target, Event::Up),
                _ => {}
            }
        }
    }

    fn dial_due(&mut self) {
        let now_ms = self.now_ms();
        let due: Vec<Target> = self
            .targets
            .iter_mut()
            .filter_map(|(target, redial)| redial.on(Event::Tick, now_ms, 0).then(|| target.clone()))
            .collect();
        let root = self.hub.trusted().root;
        for target in due {
            let is_neighbour = matches!(target, Target::Device(key) if Some(key) != root);
            if is_neighbour && (self.hub.sessions.is_full() || self.neighbours() >= MAX_NEIGHBOURS) {
                // A discovered device comes by itself; dialling it would send another one away.
                self.apply(&target, Event::MadeRoom { rest_ms: REST_MS });
                continue;
            }
            let (hub, addresses) = (self.hub.clone(), self.addresses(&target));
            self.dialling.insert(target.clone());
            self.dials.spawn(async move {
                let outcome = match &target {
                    Target::Device(_) => dial::dial(&hub, &target, &addresses, false).await,
                    Target::Place(place) => match dial::resolve(place).await {
                        Ok(addresses) => dial::dial(&hub, &target, &addresses, false).await,
                        Err(error) => Err(error),
                    },
                };
                (target, outcome)
            });
        }
    }

    /// How many discovered devices are dialled, or have a session.
    fn neighbours(&self) -> usize {
        let devices = self.targets.iter().filter(|(target, redial)| {
            let begun = self.dialling.contains(target) || matches!(redial.phase(), Phase::Up { .. });
            begun && matches!(target, Target::Device(_))
        });
        devices.count()
    }

    fn name_of(&self, target: &Target) -> String {
        match target {
            Target::Device(device) => self.hub.name_of(device),
            Target::Place(place) => place.clone(),
        }
    }

    fn finished(&mut self, target: &Target, outcome: Result<Dialled, DialError>) {
        self.dialling.remove(target);
        match &outcome {
            Ok(dialled) => {
                self.keys.insert(target.clone(), dialled.peer);
            }
            Err(error) => {
                if let DialError::Busy { peer, .. } = error {
                    self.keys.insert(target.clone(), *peer);
                }
                let name = self.name_of(target);
                tracing::debug!(peer = %target, name, %error, "no session with {name}: {error}");
            }
        }
        match event_of(&outcome) {
            Event::Lost => {
                // Which device answers at a configured place is only known now, so `follow_sessions` may have missed
                // that the session was up. Without this a long session would count as one that ended at once.
                let lasted = outcome.as_ref().map_or(Duration::ZERO, |dialled| dialled.lasted);
                self.note_up_for(target, lasted);
                self.apply(target, Event::Lost);
            }
            event => {
                self.rest_began |= matches!(event, Event::MadeRoom { .. });
                self.apply(target, event);
            }
        }
    }
}

/// What the end of a dial means for the next one.
fn event_of(outcome: &Result<Dialled, DialError>) -> Event {
    match outcome {
        Err(DialError::Unreachable(_)) => Event::NoAnswer,
        Err(DialError::Refused(_) | DialError::Retired | DialError::WrongKey(_)) => Event::Refused,
        Err(DialError::Busy { again_ms, .. }) => Event::Busy { again_ms: *again_ms },
        Ok(dialled) => match dialled.end {
            End::Bye {
                why: ByeReason::MakeRoom | ByeReason::TakeTurns,
                ..
            } => Event::MadeRoom {
                rest_ms: dialled.tally.again_ms.unwrap_or(REST_MS),
            },
            End::Stopped(StopReason::MakeRoom) => Event::MadeRoom { rest_ms: REST_MS },
            End::Stopped(StopReason::TakeTurns { again_ms }) => Event::MadeRoom { rest_ms: again_ms },
            End::NotAdmitted(NotAdmitted::Untrusted)
            | End::Stopped(StopReason::Untrusted | StopReason::Retired)
            | End::Bye {
                why: ByeReason::Refused,
                ..
            } => Event::Refused,
            End::NotAdmitted(NotAdmitted::Duplicate)
            | End::Bye {
                why: ByeReason::Duplicate,
                ..
            } => Event::NoAnswer,
            _ if dialled.tally.up => Event::Lost,
            _ => Event::NoAnswer,
        },
    }
}

/// A receiver that is notified after every commit. `None`: the node is shutting down.
async fn growth_of(hub: &Hub) -> Option<watch::Receiver<u64>> {
    hub.node.call(|node| node.growth()).await.ok()
}

/// Waits for the next commit. `false`: the node was dropped, and perhaps opened again.
async fn changed(growth: &mut Option<watch::Receiver<u64>>) -> bool {
    match growth {
        Some(growth) => growth.changed().await.is_ok(),
        None => std::future::pending().await,
    }
}

/// Without randomness the dials are not spread, and nothing else depends on it.
fn random() -> u64 {
    environment::random::<8>().map_or(0, u64::from_le_bytes)
}
