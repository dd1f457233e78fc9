//! Keeping in touch: which peers there are to dial, and dialling them as [`super::redial`] says.
//!
//! Peers are the configured places, and with discovery on the devices of the roster that were found on the local link or
//! reached before. Whoever was found and is not on the roster is never dialled. Without discovery only configured places are.

use std::collections::{BTreeMap, BTreeSet};
use std::net::SocketAddr;

use gladhand_facts::DeviceKey;
use tokio::sync::mpsc;
use tokio::task::JoinSet;
use tokio::time::{Duration, Instant};

use crate::dial::{self, DialError, Dialled, Target};
use crate::discovery::{self, News, hash_of, own_networks};
use crate::hub::Hub;
use crate::live::{Ending, NotNow};
use crate::packet::Why;
use crate::redial::{Event, Phase, Redial};
use crate::session::End;
use gladhand_node::environment;

/// With nothing to dial, look again after this long all the same.
const LOOK_MS: u64 = 600_000;

/// Keeps in touch with all peers.
pub struct Dialler {
    hub: Hub,
    discover: bool,
    started: Instant,
    targets: BTreeMap<Target, Redial>,
    /// Who answered at a configured place.
    keys: BTreeMap<Target, DeviceKey>,
    /// Where the owners of these hashes were found.
    found: BTreeMap<String, BTreeSet<SocketAddr>>,
    dials: JoinSet<(Target, Result<Dialled, DialError>)>,
    dialling: BTreeSet<Target>,
    /// Spreads the dials.
    chance: Box<dyn FnMut() -> u64 + Send>,
}

/// How many hashes found on the link are remembered.
const MAX_FOUND: usize = 1_024;

impl Dialler {
    /// A dialler that knows these configured places.
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
            chance: Box::new(chance),
        };
        for place in places.iter().map(|p| p.trim()).filter(|p| !p.is_empty()) {
            dialler.hear(Target::Place(place.to_owned()));
        }
        dialler
    }

    /// The same dialler, with waits spread by `chance` instead of the system's randomness.
    #[must_use]
    pub fn with_chance(mut self, chance: impl FnMut() -> u64 + Send + 'static) -> Self {
        self.chance = Box::new(chance);
        self
    }

    fn now_ms(&self) -> u64 {
        u64::try_from(self.started.elapsed().as_millis()).unwrap_or(u64::MAX)
    }

    fn on(&mut self, target: &Target, event: Event) {
        let now_ms = self.now_ms();
        if let Some(redial) = self.targets.get_mut(target) {
            redial.on(event, now_ms, (self.chance)());
        }
    }

    fn was_up(&mut self, target: &Target, lasted: Duration) {
        let lasted_ms = u64::try_from(lasted.as_millis()).unwrap_or(u64::MAX);
        let since_ms = self.now_ms().saturating_sub(lasted_ms);
        if let Some(redial) = self.targets.get_mut(target) {
            redial.on(Event::Up, since_ms, 0);
        }
    }

    fn hear(&mut self, target: Target) {
        self.targets.entry(target.clone()).or_default();
        self.on(&target, Event::Heard);
    }

    /// Dials until it is dropped.
    pub async fn run(mut self, mut news: mpsc::Receiver<News>) {
        let mut live = self.hub.live.changes();
        let mut trust = self.hub.trust.changes();
        let mut news_open = true;
        self.know_roster();
        loop {
            self.follow_live();
            self.dial_due();
            let wake = self.targets.values().filter_map(Redial::wake_at_ms).min();
            let at = self.started + Duration::from_millis(wake.unwrap_or_else(|| self.now_ms() + LOOK_MS));
            tokio::select! {
                biased;
                Some(done) = self.dials.join_next(), if !self.dials.is_empty() => {
                    if let Ok((target, outcome)) = done {
                        self.finished(&target, outcome);
                    }
                }
                item = news.recv(), if news_open => match item {
                    Some(item) => self.learn(item),
                    None => news_open = false,
                },
                changed = live.changed() => if changed.is_err() { return },
                changed = trust.changed() => {
                    if changed.is_err() { return }
                    self.know_roster();
                }
                () = tokio::time::sleep_until(at) => {}
            }
        }
    }

    /// Devices of the roster that were found or reached before become targets; those that left it are forgotten.
    fn know_roster(&mut self) {
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
                self.hear(target);
            }
        }
    }

    fn learn(&mut self, news: News) {
        match news {
            News::Found { hash, at } => {
                if self.found.len() < MAX_FOUND || self.found.contains_key(&hash) {
                    self.found.insert(hash.clone(), at.into_iter().collect());
                }
                let trusted = self.hub.trust.keys();
                let found = trusted.iter().find(|key| hash_of(key) == hash);
                if let Some(key) = found.filter(|key| **key != self.hub.own) {
                    self.hear(Target::Device(*key));
                }
            }
            News::LinkChanged => {
                let all: Vec<Target> = self.targets.keys().cloned().collect();
                all.iter().for_each(|target| self.on(target, Event::LinkChanged));
            }
        }
    }

    /// Where a device may be: where it was reached before, then where it was found. Only on the local link.
    fn addresses(&self, target: &Target) -> Vec<SocketAddr> {
        let Target::Device(key) = target else { return Vec::new() };
        let networks = own_networks();
        let mut all = self.hub.addresses_of(key);
        all.extend(self.found.get(&hash_of(key)).into_iter().flatten().copied());
        let mut seen = BTreeSet::new();
        all.retain(|a| discovery::is_on_link(&a.ip(), &networks) && seen.insert(*a));
        all
    }

    /// Whoever has a session is up, whichever side dialled.
    fn follow_live(&mut self) {
        let key_of = |target: &Target| match target {
            Target::Device(key) => Some(*key),
            Target::Place(_) => self.keys.get(target).copied(),
        };
        let known: Vec<(Target, Phase, bool)> = self
            .targets
            .iter()
            .filter_map(|(t, redial)| Some((t.clone(), redial.phase(), self.hub.live.is_up(&key_of(t)?))))
            .collect();
        for (target, phase, up) in known {
            match phase {
                Phase::Up { .. } if !up && !self.dialling.contains(&target) => self.on(&target, Event::Lost),
                Phase::Waiting { .. } | Phase::Asleep | Phase::Dialling if up => self.on(&target, Event::Up),
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
        for target in due {
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
                let name = self.name_of(target);
                tracing::debug!(peer = %target, name, %error, "no session with {name}: {error}");
            }
        }
        match event_of(&outcome) {
            Event::Lost => {
                // Who is at a configured place is only known now, so nobody may have told that it was up; and a good
                // session must not be taken for one that ended at once.
                let lasted = outcome.as_ref().map_or(Duration::ZERO, |dialled| dialled.lasted);
                self.was_up(target, lasted);
                self.on(target, Event::Lost);
            }
            event => self.on(target, event),
        }
    }
}

fn event_of(outcome: &Result<Dialled, DialError>) -> Event {
    match outcome {
        Err(DialError::Unreachable(_)) => Event::NoAnswer,
        Err(DialError::Refused(_) | DialError::WrongKey(_)) => Event::Refused,
        Ok(dialled) => match dialled.end {
            End::Bye { why: Why::Busy, .. }
            | End::NotNow(NotNow::Busy | NotNow::Untrusted)
            | End::Ended(Ending::Untrusted)
            | End::Bye { why: Why::Refused, .. } => Event::Refused,
            End::NotNow(NotNow::Duplicate)
            | End::Bye {
                why: Why::Duplicate, ..
            } => Event::NoAnswer,
            _ if dialled.tally.up => Event::Lost,
            _ => Event::NoAnswer,
        },
    }
}

fn chance() -> u64 {
    environment::random::<8>().map_or(0, u64::from_le_bytes)
}
