//! The roster: what the governance records of all logs add up to.
//!
//! A device may write when it is the root, when the root has enrolled it, or when it shows a genuine credential
//! whose invite no other device has used. A retirement names the last entry that counts in each of the device's logs;
//! later entries count on no node, whoever sends them.
//!
//! Deliberately absent: time. The depot judges expiry when it enrols, because only one clock can judge it.
//! Equal histories give equal rosters: nothing here depends on the order of arrival.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::{DeviceKey, LogId, VersionVector};

use crate::governance::{Credential, Record};

mod carried;
mod clock_reading;
mod credentials;
mod fork;
mod incarnation;
mod refusal;
mod retirements;

pub use carried::Carried;
pub use clock_reading::ClockReading;
use credentials::Credentials;
pub use fork::Fork;
use fork::Forks;
pub use incarnation::Incarnation;
pub use refusal::Refusal;
use retirements::Retirements;

/// An enrolled device.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Member {
    /// Its name.
    pub name: String,
    /// Its person.
    pub person: String,
    /// The invite it used.
    pub invite: DeviceKey,
}

/// A work standard that the depot has published.
#[derive(Debug, Clone)]
struct Published {
    /// Incarnation and entry of the record.
    at: (u64, u64),
    version: String,
    text: String,
}

/// Who may write, and what they are called.
#[derive(Debug, Clone, Default)]
pub struct Roster {
    root: Option<DeviceKey>,
    members: BTreeMap<DeviceKey, Member>,
    /// Which device each used invite enrolled.
    used_invites: BTreeMap<DeviceKey, DeviceKey>,
    credentials: Credentials,
    retirements: Retirements,
    /// Name and person, as each device introduced itself.
    introduced: BTreeMap<DeviceKey, (String, String)>,
    depots: BTreeSet<DeviceKey>,
    /// Credentials that are not from our depot.
    foreign: BTreeMap<DeviceKey, Credential>,
    standard: Option<Published>,
    forks: Forks,
    clocks: BTreeMap<(LogId, u64), ClockReading>,
    carried: BTreeMap<(LogId, u64), Carried>,
    incarnations: BTreeMap<LogId, Incarnation>,
}

impl Roster {
    /// A roster under `root`, or under nobody.
    pub fn new(root: Option<DeviceKey>) -> Self {
        Self {
            root,
            ..Self::default()
        }
    }

    /// The depot's key.
    pub fn root(&self) -> Option<DeviceKey> {
        self.root
    }

    /// Sets the depot's key, once.
    pub fn set_root(&mut self, root: DeviceKey) {
        self.root.get_or_insert(root);
    }

    /// Adds a record that is at `seq` of `log`.
    pub fn learn(&mut self, log: &LogId, seq: u64, record: Record) {
        let place = (*log, seq);
        let by_root = self.root == Some(log.device);
        match record {
            Record::Introduce { name, person, depot } => {
                self.introduced.entry(log.device).or_insert((name, person));
                if depot {
                    self.depots.insert(log.device);
                }
            }
            Record::Join { credential } if credential.device == log.device => self.learn_join(place, credential),
            Record::Enrol {
                device,
                name,
                person,
                invite,
            } if by_root => {
                self.used_invites.entry(invite).or_insert(device);
                self.members.entry(device).or_insert(Member { name, person, invite });
            }
            Record::Retire { device, last, .. } if by_root => self.retirements.learn(place, device, &last),
            Record::Standard { version, text } if by_root => self.learn_standard(place, version, text),
            Record::Clock {
                peer,
                offset_us,
                delay_us,
                at_us,
            } if delay_us >= 0 => {
                let reading = ClockReading {
                    device: log.device,
                    peer,
                    offset_us,
                    delay_us,
                    at_us,
                };
                self.clocks.insert(place, reading);
            }
            Record::Carried {
                writer,
                head,
                written_us,
                read_us,
            } => {
                if let Some(writer) = writer.parse::<LogId>().ok().filter(|w| w.device != log.device) {
                    let carried = Carried {
                        writer,
                        head,
                        written_us,
                        read_us,
                    };
                    self.carried.insert(place, carried);
                }
            }
            Record::Incarnation { after, at, .. } => self.learn_incarnation(place, &after, at),
            Record::Forked {
                log: forked,
                seq: at,
                hashes,
            } => self.forks.learn(&forked, at, hashes, place),
            // Only the root enrols, retires and publishes; a device shows only its own credential.
            Record::Join { .. }
            | Record::Enrol { .. }
            | Record::Retire { .. }
            | Record::Standard { .. }
            | Record::Clock { .. } => {}
        }
    }

    fn learn_join(&mut self, place: (LogId, u64), credential: Credential) {
        if self.is_genuine(&credential) {
            self.credentials.learn_recorded(place, credential);
        } else {
            self.foreign.insert(credential.device, credential);
        }
    }

    /// The standard that was published last is in force, whatever order the records arrive in.
    fn learn_standard(&mut self, (log, seq): (LogId, u64), version: String, text: String) {
        let at = (log.incarnation, seq);
        if self.standard.as_ref().is_none_or(|known| known.at <= at) {
            self.standard = Some(Published { at, version, text });
        }
    }

    /// A device can say only of its own logs which one continues which.
    fn learn_incarnation(&mut self, (log, seq): (LogId, u64), after: &str, at: Option<u64>) {
        let after = after.parse::<LogId>().ok();
        if let Some(after) = after.filter(|old| old.device == log.device && *old != log) {
            self.incarnations.entry(log).or_insert(Incarnation { after, at, seq });
        }
    }

    fn is_genuine(&self, credential: &Credential) -> bool {
        self.root.is_some_and(|root| credential.is_genuine(&root))
    }

    /// Adds a credential that a peer sent. Returns whether it is genuine.
    pub fn learn_credential(&mut self, credential: Credential) -> bool {
        let genuine = self.is_genuine(&credential);
        if genuine {
            self.credentials.learn(credential);
        }
        genuine
    }

    /// The credential that a device showed. Of several, the one that it recorded last among those whose invite no other
    /// device has used.
    pub fn credential(&self, device: &DeviceKey) -> Option<&Credential> {
        let is_free = |c: &Credential| self.used_by(&c.invite).is_none_or(|other| other == *device);
        self.credentials.of(device, is_free)
    }

    /// Whether a device has shown this very invite.
    pub fn has_shown(&self, device: &DeviceKey, invite: &DeviceKey) -> bool {
        self.credentials.has_shown(device, invite)
    }

    /// Whether a device calls itself a depot. Any device may.
    pub fn is_depot(&self, device: &DeviceKey) -> bool {
        self.depots.contains(device)
    }

    /// Whether a device has joined a depot that is not ours.
    pub fn joined_elsewhere(&self, device: &DeviceKey) -> bool {
        self.foreign.contains_key(device)
    }

    /// Which depot that was, if its log is here.
    pub fn other_depot(&self, device: &DeviceKey) -> Option<DeviceKey> {
        let credential = self.foreign.get(device)?;
        self.depots.iter().copied().find(|depot| credential.is_genuine(depot))
    }

    /// Whether the root has enrolled a device.
    pub fn is_enrolled(&self, device: &DeviceKey) -> bool {
        self.root == Some(*device) || self.members.contains_key(device)
    }

    /// Which device has used an invite.
    pub fn used_by(&self, invite: &DeviceKey) -> Option<DeviceKey> {
        self.used_invites.get(invite).copied()
    }

    /// Whether a device may write at all.
    ///
    /// # Errors
    /// [`Refusal`], with the reason.
    pub fn admits(&self, device: &DeviceKey) -> Result<(), Refusal> {
        if self.root.is_none() {
            return Err(Refusal::NoRoot);
        }
        if self.is_enrolled(device) {
            return Ok(());
        }
        let Some(credential) = self.credential(device) else {
            return Err(Refusal::Stranger(*device));
        };
        match self.used_by(&credential.invite) {
            Some(other) if other != *device => Err(Refusal::InviteUsed(*device)),
            _ => Ok(()),
        }
    }

    /// Whether entry `seq` of `log` counts for the device `own`. A device that has not joined a depot counts its own entries.
    ///
    /// # Errors
    /// [`Refusal`], with the reason.
    pub fn counts_for(&self, own: Option<DeviceKey>, log: &LogId, seq: u64) -> Result<(), Refusal> {
        if self.root.is_none() && own == Some(log.device) {
            return Ok(());
        }
        self.admits_entry(log, seq)
    }

    /// Whether entry `seq` of `log` counts.
    ///
    /// # Errors
    /// [`Refusal`], with the reason.
    pub fn admits_entry(&self, log: &LogId, seq: u64) -> Result<(), Refusal> {
        self.admits(&log.device)?;
        match self.retired(&log.device) {
            Some(cut) if !cut.includes(log, seq) => Err(Refusal::Retired {
                device: log.device,
                seq,
                last: cut.get(log),
            }),
            _ => Ok(()),
        }
    }

    /// Whether an entry is refused for good, so that entries that had seen it must not wait for it.
    ///
    /// Of a forked log one branch is held and the other refused: a node that waited for the other branch would be cut off
    /// from all who hold it.
    pub(crate) fn refuses_for_good(&self, log: &LogId, seq: u64) -> bool {
        let refused = self.admits_entry(log, seq);
        matches!(refused, Err(Refusal::Retired { .. } | Refusal::InviteUsed(_))) || self.forks.contain(log)
    }

    /// The last entries of a retired device that count; `None` for a device that is not retired.
    pub fn retired(&self, device: &DeviceKey) -> Option<&VersionVector> {
        self.retirements.last_of(device)
    }

    /// Whether a peer that holds `vector` knows of all retirements of a device that are known here.
    pub fn retirement_is_in(&self, vector: &VersionVector, device: &DeviceKey) -> bool {
        self.retirements.are_in(vector, device)
    }

    /// The name of a device: from its enrolment, its credential or its own introduction, or else the start of its key.
    pub fn name(&self, device: &DeviceKey) -> String {
        let enrolled = self.members.get(device).map(|m| m.name.clone());
        let credential = || self.credential(device).map(|c| c.name.clone());
        let introduced = || self.introduced.get(device).map(|(name, _)| name.clone());
        enrolled
            .or_else(credential)
            .or_else(introduced)
            .unwrap_or_else(|| device.short())
    }

    /// The person who usually works with a device; may be empty.
    pub fn person(&self, device: &DeviceKey) -> String {
        let enrolled = self.members.get(device).map(|m| m.person.clone());
        let introduced = || self.introduced.get(device).map(|(_, person)| person.clone());
        enrolled.or_else(introduced).unwrap_or_default()
    }

    /// All devices that are known by any record.
    pub fn devices(&self) -> Vec<DeviceKey> {
        let mut all: Vec<DeviceKey> = self.introduced.keys().chain(self.members.keys()).copied().collect();
        all.extend(self.credentials.devices().chain(self.root));
        all.sort_unstable();
        all.dedup();
        all
    }

    /// The work standard that the depot has published: version and text.
    pub fn standard(&self) -> Option<(&str, &str)> {
        let published = self.standard.as_ref()?;
        Some((&published.version, &published.text))
    }

    /// All clock readings, with the place of each.
    pub fn clock_readings(&self) -> impl Iterator<Item = (LogId, u64, &ClockReading)> {
        self.clocks.iter().map(|((log, seq), reading)| (*log, *seq, reading))
    }

    /// All bundles that were carried, with the places where their readers say so.
    pub fn carried(&self) -> impl Iterator<Item = (LogId, u64, &Carried)> {
        self.carried.iter().map(|((log, seq), carried)| (*log, *seq, carried))
    }

    /// The newest reading that `device` took of `peer`'s clock.
    pub fn last_reading(&self, device: &DeviceKey, peer: &DeviceKey) -> Option<&ClockReading> {
        let theirs = |r: &&ClockReading| r.device == *device && r.peer == *peer;
        self.clocks.values().filter(theirs).max_by_key(|r| r.at_us)
    }

    /// Per log that is not its device's first: which log it continues.
    pub fn incarnations(&self) -> &BTreeMap<LogId, Incarnation> {
        &self.incarnations
    }

    /// The forks that are known.
    pub fn forks(&self) -> Vec<Fork> {
        self.forks.all()
    }
}

#[cfg(test)]
#[path = "roster_tests.rs"]
mod tests;
