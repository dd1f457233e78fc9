//! The roster: what the governance records of all logs add up to.
//!
//! A device may write when it is the root, when the root has enrolled it, or when it shows a genuine credential
//! whose invite nobody else has used up. A retirement names the last entry that counts in each of the device's logs;
//! whatever stands behind it is quarantined on every node, whoever brings it.
//!
//! Deliberately absent: time. Expiry is judged by the depot when it enrols, because only one clock can judge it.
//! Equal histories give equal rosters: nothing here depends on the order of arrival.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::{DeviceKey, LogId, VersionVector};

use crate::governance::{Credential, Record};

/// Why a device may not write here.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// This node does not belong to any depot yet.
    #[error("this node has not joined a depot, so it can trust nobody else's log")]
    NoRoot,
    /// No enrolment and no credential.
    #[error("device {} is not enrolled by our depot", .0.short())]
    Stranger(DeviceKey),
    /// Its invite belongs to another device.
    #[error("device {} used an invite that enrolled another device", .0.short())]
    InviteUsed(DeviceKey),
    /// Behind its retirement.
    #[error("device {} was retired; its entry {seq} comes after the last one that counts ({last})", device.short())]
    Retired {
        /// The device.
        device: DeviceKey,
        /// The entry.
        seq: u64,
        /// The last one that counts.
        last: u64,
    },
}

/// A device as the roster knows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Member {
    /// Its name.
    pub name: String,
    /// Its person.
    pub person: String,
    /// The invite it used.
    pub invite: DeviceKey,
}

/// Two different entries at one place, as some node has seen them.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fork {
    /// The log.
    pub log: LogId,
    /// The place.
    pub seq: u64,
    /// The two hashes, in hexadecimal, sorted.
    pub hashes: [String; 2],
    /// Where it was recorded: of several records the one in the smallest place.
    pub evidence: Option<(LogId, u64)>,
}

/// The beginning of a later log of a device.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Incarnation {
    /// The log that it goes on from.
    pub after: LogId,
    /// The last place of that log that its writer could call its own, when it knew or feared that it is not the only one to go on.
    pub at: Option<u64>,
    /// Where in the new log that is said.
    pub seq: u64,
}

/// How the clocks of two devices stood against each other, as one of them measured it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClockReading {
    /// Who measured.
    pub device: DeviceKey,
    /// Whose clock it was measured against.
    pub peer: DeviceKey,
    /// The peer's clock minus the device's, in microseconds, give or take half of `delay_us`.
    pub offset_us: i64,
    /// How long the question and the answer were under way, in microseconds.
    pub delay_us: i64,
    /// When, by the device's clock.
    pub at_us: i64,
}

/// A credential, and where in the device's log it stands; `None` while it is known only because somebody showed it.
#[derive(Debug, Clone)]
struct Shown {
    place: Option<(LogId, u64)>,
    credential: Credential,
}

/// Who may write, and what they are called.
#[derive(Debug, Clone, Default)]
pub struct Roster {
    root: Option<DeviceKey>,
    members: BTreeMap<DeviceKey, Member>,
    invites: BTreeMap<DeviceKey, DeviceKey>,
    /// By device and invite: whose invite turned out to be used, or too old, joins again with another.
    credentials: BTreeMap<DeviceKey, BTreeMap<DeviceKey, Shown>>,
    retired: BTreeMap<DeviceKey, VersionVector>,
    /// Where the newest retirement of a device stands.
    retired_at: BTreeMap<DeviceKey, (LogId, u64)>,
    introduced: BTreeMap<DeviceKey, (String, String)>,
    depots: BTreeSet<DeviceKey>,
    foreign: BTreeMap<DeviceKey, Credential>,
    standard: Option<((u64, u64), String, String)>,
    forks: BTreeMap<(LogId, u64), Fork>,
    clocks: BTreeMap<(LogId, u64), ClockReading>,
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

    /// Takes in a record that stands at `seq` of `log`.
    pub fn learn(&mut self, log: &LogId, seq: u64, record: Record) {
        let by_root = self.root == Some(log.device);
        match record {
            Record::Introduce { name, person, depot } => {
                self.introduced.entry(log.device).or_insert((name, person));
                if depot {
                    self.depots.insert(log.device);
                }
            }
            Record::Join { credential } if credential.device == log.device => self.learn_join((*log, seq), credential),
            Record::Enrol {
                device,
                name,
                person,
                invite,
            } if by_root => {
                self.invites.entry(invite).or_insert(device);
                self.members.entry(device).or_insert(Member { name, person, invite });
            }
            Record::Retire { device, last, .. } if by_root => {
                let newest = self.retired_at.entry(device).or_insert((*log, seq));
                if (newest.0.incarnation, newest.1) < (log.incarnation, seq) {
                    *newest = (*log, seq);
                }
                self.retire(device, &last);
            }
            // Entries of one log arrive in order; the later standard wins, whatever came between.
            Record::Standard { version, text } if by_root => {
                let place = (log.incarnation, seq);
                if self.standard.as_ref().is_none_or(|(at, ..)| *at <= place) {
                    self.standard = Some((place, version, text));
                }
            }
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
                self.clocks.insert((*log, seq), reading);
            }
            Record::Incarnation { after, at, .. } => {
                let after = after
                    .parse()
                    .ok()
                    .filter(|old: &LogId| old.device == log.device && old != log);
                if let Some(after) = after {
                    self.incarnations.entry(*log).or_insert(Incarnation { after, at, seq });
                }
            }
            Record::Forked {
                log: forked,
                seq: at,
                hashes,
            } => self.learn_fork(&forked, at, hashes, (*log, seq)),
            _ => {}
        }
    }

    fn learn_join(&mut self, place: (LogId, u64), credential: Credential) {
        let (device, invite) = (credential.device, credential.invite);
        if !self.learn_credential(credential.clone()) {
            self.foreign.insert(device, credential);
        } else if let Some(shown) = self.credentials.get_mut(&device).and_then(|all| all.get_mut(&invite)) {
            shown.place = shown.place.max(Some(place));
        }
    }

    fn retire(&mut self, device: DeviceKey, last: &BTreeMap<String, u64>) {
        let cut = last
            .iter()
            .filter_map(|(log, seq)| Some((log.parse::<LogId>().ok()?, *seq)))
            .collect();
        // Retired twice: the earlier place counts, so that no order of arrival can give anything back.
        let known = self.retired.entry(device).or_insert_with(|| VersionVector::clone(&cut));
        let both: VersionVector = known.iter().map(|(log, seq)| (log, seq.min(cut.get(&log)))).collect();
        *known = both;
    }

    /// Whether two entries are known to claim one place in this log.
    pub(crate) fn is_forked(&self, log: &LogId) -> bool {
        self.forks.range((*log, 0)..=(*log, u64::MAX)).next().is_some()
    }

    /// Several nodes may record the same fork; whatever order they arrive in, one of the records speaks for all.
    fn learn_fork(&mut self, log: &str, seq: u64, hashes: [String; 2], evidence: (LogId, u64)) {
        let Ok(log) = log.parse::<LogId>() else { return };
        let fork = Fork {
            log,
            seq,
            hashes,
            evidence: Some(evidence),
        };
        let known = self.forks.entry((log, seq)).or_insert_with(|| fork.clone());
        if fork.evidence < known.evidence {
            *known = fork;
        }
    }

    /// Takes in a credential. Returns whether it is genuine.
    pub fn learn_credential(&mut self, credential: Credential) -> bool {
        let genuine = self.root.is_some_and(|root| credential.is_genuine(&root));
        if genuine {
            let shown = self.credentials.entry(credential.device).or_default();
            let place = None;
            shown.entry(credential.invite).or_insert(Shown { place, credential });
        }
        genuine
    }

    /// The credential that a device showed; of several the one with which it joined last, among those that others have not
    /// used up: whoever joined again did so because the one before is not taken, even if nobody here knows why.
    pub fn credential(&self, device: &DeviceKey) -> Option<&Credential> {
        let shown = self.credentials.get(device)?;
        let is_free = |c: &Credential| self.used_by(&c.invite).is_none_or(|other| other == *device);
        let rank = |s: &&Shown| {
            (
                is_free(&s.credential),
                s.place,
                s.credential.expires_s,
                s.credential.invite,
            )
        };
        shown.values().max_by_key(rank).map(|s| &s.credential)
    }

    /// Whether a device has shown this very invite.
    pub fn has_shown(&self, device: &DeviceKey, invite: &DeviceKey) -> bool {
        self.credentials
            .get(device)
            .is_some_and(|shown| shown.contains_key(invite))
    }

    /// Whether a device calls itself a depot. Anybody may.
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

    /// Which device has used up an invite.
    pub fn used_by(&self, invite: &DeviceKey) -> Option<DeviceKey> {
        self.invites.get(invite).copied()
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

    /// Whether entry `seq` of `log` counts for `own`: who has not joined a depot counts what is his own.
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
        match self.retired.get(&log.device) {
            Some(cut) if !cut.includes(log, seq) => Err(Refusal::Retired {
                device: log.device,
                seq,
                last: cut.get(log),
            }),
            _ => Ok(()),
        }
    }

    /// Where a device was retired, if it was.
    pub fn retired(&self, device: &DeviceKey) -> Option<&VersionVector> {
        self.retired.get(device)
    }

    /// Whether whoever holds `vector` knows of all retirements of a device that are known here.
    pub fn retirement_is_in(&self, vector: &VersionVector, device: &DeviceKey) -> bool {
        self.retired_at
            .get(device)
            .is_some_and(|(log, seq)| vector.includes(log, *seq))
    }

    /// What to call a device: by its enrolment, its credential, its own introduction, or the start of its key.
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
        all.extend(self.credentials.keys().copied().chain(self.root));
        all.sort_unstable();
        all.dedup();
        all
    }

    /// The work standard that the depot has published: version and text.
    pub fn standard(&self) -> Option<(&str, &str)> {
        self.standard
            .as_ref()
            .map(|(_, version, text)| (version.as_str(), text.as_str()))
    }

    /// All clock readings, with the place of each.
    pub fn clock_readings(&self) -> impl Iterator<Item = (LogId, u64, &ClockReading)> {
        self.clocks.iter().map(|((log, seq), reading)| (*log, *seq, reading))
    }

    /// The newest reading of `device`'s between it and `peer`.
    pub fn last_reading(&self, device: &DeviceKey, peer: &DeviceKey) -> Option<&ClockReading> {
        let theirs = |r: &&ClockReading| r.device == *device && r.peer == *peer;
        self.clocks.values().filter(theirs).max_by_key(|r| r.at_us)
    }

    /// Per log that is not its device's first: which log it goes on from.
    pub fn incarnations(&self) -> &BTreeMap<LogId, Incarnation> {
        &self.incarnations
    }

    /// The forks that are known.
    pub fn forks(&self) -> Vec<Fork> {
        self.forks.values().cloned().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::governance::Invite;
    use crate::keys::DeviceSecret;

    fn secret(n: u8) -> DeviceSecret {
        DeviceSecret::from_seed(&[n; 32])
    }
    fn log(n: u8) -> LogId {
        LogId {
            device: secret(n).public(),
            incarnation: 1,
        }
    }
    fn enrol(device: u8, invite: &Invite) -> Record {
        let (name, person) = (format!("laptop {device}"), String::new());
        Record::Enrol {
            device: secret(device).public(),
            name,
            person,
            invite: invite.id(),
        }
    }

    /// What a roster answers beside who may write; a delay that runs backwards is no reading of a clock.
    #[test]
    fn names_the_standard_and_clock_readings_are_answered() {
        let invite = Invite::make(&secret(1), [9; 32], "", 100);
        let mut roster = Roster::new(Some(secret(1).public()));
        let device = secret(2).public();
        assert_eq!((roster.name(&device), roster.standard()), (device.short(), None));
        roster.learn(&log(1), 1, enrol(2, &invite));
        let (version, text) = ("yard 2".to_owned(), "version = \"yard 2\"".to_owned());
        roster.learn(&log(1), 2, Record::Standard { version, text });
        assert_eq!(roster.name(&device), "laptop 2");
        assert_eq!(roster.standard(), Some(("yard 2", "version = \"yard 2\"")));
        for (seq, delay_us) in [(1, -1), (2, 0), (3, 7)] {
            let (peer, offset_us, at_us) = (secret(1).public(), 5, 9);
            let record = Record::Clock {
                peer,
                offset_us,
                delay_us,
                at_us,
            };
            roster.learn(&log(2), seq, record);
        }
        let delays: Vec<i64> = roster.clocks.values().map(|reading| reading.delay_us).collect();
        assert_eq!(delays, [0, 7]);
    }

    #[test]
    fn a_credential_admits_until_its_invite_turns_out_to_be_used() {
        let invite = Invite::make(&secret(1), [9; 32], "", 100);
        let mut roster = Roster::new(Some(secret(1).public()));
        for n in [2, 3] {
            assert_eq!(
                roster.admits(&secret(n).public()),
                Err(Refusal::Stranger(secret(n).public()))
            );
            assert!(roster.learn_credential(invite.accept(secret(n).public(), "l", "p", 0).unwrap()));
            assert_eq!(roster.admits(&secret(n).public()), Ok(()));
        }
        roster.learn(&log(1), 5, enrol(2, &invite));
        assert_eq!(roster.admits(&secret(2).public()), Ok(()));
        assert_eq!(
            roster.admits(&secret(3).public()),
            Err(Refusal::InviteUsed(secret(3).public()))
        );
        // With another invite it may write after all, what it wrote before included.
        let another = Invite::make(&secret(1), [10; 32], "", 100);
        assert!(roster.learn_credential(another.accept(secret(3).public(), "l", "p", 0).unwrap()));
        assert_eq!(roster.admits(&secret(3).public()), Ok(()));
        assert_eq!(
            roster.credential(&secret(3).public()).map(|c| c.invite),
            Some(another.id())
        );
    }

    /// Whoever joins again shows the new invite from then on, also where nobody knows yet that the old one was used.
    #[test]
    fn of_two_invites_the_one_joined_with_last_is_shown() {
        let device = secret(3).public();
        for order in [[9, 10], [10, 9]] {
            let invites = order.map(|n| Invite::make(&secret(1), [n; 32], "", 100));
            let mut roster = Roster::new(Some(secret(1).public()));
            for (seq, invite) in (1..).zip(&invites) {
                let credential = invite.accept(device, "l", "p", 0).unwrap();
                roster.learn(&log(3), seq, Record::Join { credential });
            }
            assert_eq!(roster.credential(&device).map(|c| c.invite), Some(invites[1].id()));
            // Somebody who shows the first one again changes nothing.
            roster.learn_credential(invites[0].accept(device, "l", "p", 0).unwrap());
            assert_eq!(roster.credential(&device).map(|c| c.invite), Some(invites[1].id()));
        }
    }

    #[test]
    fn only_the_root_enrols_and_retires() {
        let invite = Invite::make(&secret(1), [9; 32], "", 100);
        let mut roster = Roster::new(Some(secret(1).public()));
        roster.learn(&log(2), 1, enrol(3, &invite));
        assert!(roster.admits(&secret(3).public()).is_err());
        roster.learn(&log(1), 1, enrol(3, &invite));
        let cut = |seq| Record::Retire {
            device: secret(3).public(),
            last: BTreeMap::from([(log(3).to_string(), seq)]),
            why: "lost".into(),
        };
        roster.learn(&log(2), 2, cut(1));
        assert_eq!(roster.admits_entry(&log(3), 50), Ok(()));
        roster.learn(&log(1), 2, cut(7));
        assert_eq!(roster.admits_entry(&log(3), 7), Ok(()));
        assert!(matches!(
            roster.admits_entry(&log(3), 8),
            Err(Refusal::Retired { last: 7, .. })
        ));
        let reborn = LogId {
            incarnation: 2,
            ..log(3)
        };
        assert!(
            roster.admits_entry(&reborn, 1).is_err(),
            "a log that is not named counts up to nothing"
        );
    }

    /// A second retirement can only take back more, whichever of the two records arrives first.
    #[test]
    fn of_two_retirements_the_earlier_place_counts_in_any_order() {
        let second_log = LogId {
            incarnation: 2,
            ..log(3)
        };
        let retire = |last: &[(LogId, u64)]| Record::Retire {
            device: secret(3).public(),
            last: last.iter().map(|(log, seq)| (log.to_string(), *seq)).collect(),
            why: "lost".into(),
        };
        let invite = Invite::make(&secret(1), [9; 32], "", 100);
        let records = [
            retire(&[(log(3), 7), (second_log, 2)]),
            // Names another place in the first log, and the second log not at all.
            retire(&[(log(3), 4)]),
        ];
        for order in [[0, 1], [1, 0]] {
            let mut roster = Roster::new(Some(secret(1).public()));
            roster.learn(&log(1), 1, enrol(3, &invite));
            for n in order {
                roster.learn(&log(1), 2 + n as u64, records[n].clone());
            }
            assert_eq!(roster.admits_entry(&log(3), 4), Ok(()));
            let refused = |log: &LogId, seq, last| {
                let device = log.device;
                assert_eq!(
                    roster.admits_entry(log, seq),
                    Err(Refusal::Retired { device, seq, last }),
                    "records in the order {order:?}"
                );
            };
            refused(&log(3), 5, 4);
            refused(&log(3), 7, 4);
            refused(&second_log, 1, 0);
        }
    }

    #[test]
    fn a_device_that_joined_another_depot_is_told_from_one_that_joined_none() {
        let invite = Invite::make(&secret(1), [9; 32], "", 100);
        let credential = invite.accept(secret(2).public(), "l", "p", 0).unwrap();
        let introduce = |depot| Record::Introduce {
            name: "n".into(),
            person: String::new(),
            depot,
        };
        let here = secret(2).public();
        for root in [None, Some(secret(7).public())] {
            let mut roster = Roster::new(root);
            roster.learn(&log(2), 1, introduce(false));
            assert!(!roster.joined_elsewhere(&here) && !roster.is_depot(&here));
            roster.learn(
                &log(2),
                2,
                Record::Join {
                    credential: credential.clone(),
                },
            );
            assert!(roster.joined_elsewhere(&here));
            assert_eq!(roster.other_depot(&here), None, "its log is not here");
            roster.learn(&log(1), 1, introduce(true));
            assert_eq!(roster.other_depot(&here), Some(secret(1).public()));
        }
        let mut roster = Roster::new(Some(secret(1).public()));
        roster.learn(&log(2), 2, Record::Join { credential });
        assert!(!roster.joined_elsewhere(&here));
    }

    #[test]
    fn without_a_root_nobody_is_trusted() {
        assert_eq!(Roster::new(None).admits(&secret(1).public()), Err(Refusal::NoRoot));
    }
}
