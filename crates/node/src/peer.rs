//! The node's side of sessions with peers: start, process messages, judge a credential, record a clock reading, retire a device.
//!
//! A step takes received messages and returns the messages to send. The gate, the fsync and the index update happen within it.
//!
//! Deliberately absent: sockets, timeouts, and who may connect (crate `net`, with the keys from [`Node::trusted`]).
//!
//! Invariants: between two steps book, journal and index agree; an acknowledgement is only returned for entries that are durable.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use gladhand_facts::{DeviceKey, LogId};
use gladhand_logbook::GateError;
use gladhand_logbook::exchange::{Effect, Message, Session, SessionError};
use gladhand_logbook::frame::Frame;
use gladhand_logbook::governance::{Credential, Record as Rule};
use gladhand_logbook::roster::ClockReading;
use gladhand_reconcile::clock_reading::WRITTEN_WITHIN_US;
use tokio::sync::watch;

use crate::config::Role;
use crate::error::{NodeError, RetireError};
use crate::merge::BundleRead;
use crate::node::Node;
use crate::progress::Silent;

/// The most refused frames that are kept as evidence.
const MAX_EVIDENCE: usize = 64;

/// An input of a session.
#[derive(Debug)]
pub enum PeerInput {
    /// The peer sent a message.
    Message(Message),
    /// This node holds more than before.
    Grown,
}

/// The result of a step.
#[derive(Debug, Default)]
pub struct PeerStep {
    /// The messages to send, in this order.
    pub send: Vec<Message>,
    /// Both sides now hold the same, as far as each admits it. The next message may change that.
    pub level: bool,
    /// New entries, now durable here.
    pub entries: u64,
    /// Entries received that this node held already.
    pub known: u64,
    /// Entries in the frames to send.
    pub offered: u64,
    /// What was refused, in words.
    pub refused: Vec<String>,
    /// Devices that this depot has just enrolled.
    pub enrolled: Vec<String>,
    /// Why the session cannot go on, if it cannot.
    pub broken: Option<SessionError>,
}

/// The verdict on a presented credential.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CredentialVerdict {
    /// The device may open sessions here.
    Admitted {
        /// Whether it is on the depot's roster now; otherwise only this node accepts the credential.
        enrolled: bool,
    },
    /// It may not, for this reason.
    Refused(String),
    /// The depot has retired it.
    Retired,
}

/// The devices that this node connects with, and the credential to present if it is not enrolled.
#[derive(Debug, Clone, Default)]
pub struct Trusted {
    /// Their keys.
    pub keys: BTreeSet<DeviceKey>,
    /// The names of all devices on the roster, also of retired ones.
    pub names: BTreeMap<DeviceKey, String>,
    /// The depot.
    pub root: Option<DeviceKey>,
    /// The devices that the depot has retired.
    pub retired: BTreeSet<DeviceKey>,
    /// This device's own credential: who refuses it a session says why when it is shown.
    pub own_credential: Option<Credential>,
    /// The depot and the credential to present to it, as long as this node does not know that the depot has enrolled it.
    pub credential_to_show: Option<(DeviceKey, Credential)>,
}

impl Node {
    /// A receiver that is notified after every commit.
    pub fn growth(&self) -> watch::Receiver<u64> {
        self.grown.subscribe()
    }

    /// The secret that this node's key is made from, for the transport's own signatures.
    pub fn transport_seed(&self) -> zeroize::Zeroizing<[u8; 32]> {
        zeroize::Zeroizing::new(*self.home.key_seed())
    }

    /// The devices that this node connects with: all that may write and are not retired.
    pub fn trusted(&self) -> Trusted {
        let (roster, own) = (self.book.roster(), self.device());
        let admitted = |d: &DeviceKey| roster.admits(d).is_ok() && roster.retired(d).is_none();
        let devices = roster.devices();
        let names = devices.iter().map(|device| (*device, roster.name(device))).collect();
        let retired = devices.iter().filter(|device| roster.retired(device).is_some());
        let retired = retired.copied().collect();
        let keys = devices.into_iter().filter(admitted).collect();
        let to_show = roster.root().filter(|root| *root != own && !roster.is_enrolled(&own));
        let credential_to_show = to_show.and_then(|root| Some((root, roster.credential(&own)?.clone())));
        Trusted {
            keys,
            names,
            root: roster.root(),
            retired,
            own_credential: roster.credential(&own).cloned(),
            credential_to_show,
        }
    }

    /// Starts a session. Returns its state and the first messages to send.
    pub fn peer_start(&self) -> (Session, Vec<Message>) {
        let (session, effects) = Session::start(&self.book, self.device(), self.environment.now_us());
        let hello = effects.into_iter().filter_map(|effect| match effect {
            Effect::Send(message) => Some(message),
            _ => None,
        });
        (session, hello.collect())
    }

    /// Processes the inputs of a session.
    ///
    /// # Errors
    /// When the disk refuses. The session cannot be used any more. What was acknowledged is durable.
    pub fn peer_step(&mut self, session: &mut Session, inputs: Vec<PeerInput>) -> Result<PeerStep, NodeError> {
        let mut step = PeerStep::default();
        let mut read = BundleRead::default();
        let mut outcome = Ok(());
        for input in inputs {
            match self.advance(session, input) {
                Ok(effects) => outcome = self.carry_out(session, effects, &mut step, &mut read),
                Err(e) => step.broken = Some(e),
            }
            if outcome.is_err() || step.broken.is_some() {
                break;
            }
        }
        // The index is brought up to date with whatever was committed, also when the rest failed, now or in an earlier step.
        self.catch_up(&Silent)?;
        outcome?;
        if read.entries > 0 {
            read.enrolled.extend(self.enrol_newcomers()?);
        }
        if !read.enrolled.is_empty() {
            self.offer_before_acks(session, &mut step, &mut read)?;
        }
        if step.level && self.re_record_stuck_facts(session.peer())? {
            match self.advance(session, PeerInput::Grown) {
                Ok(effects) => self.carry_out(session, effects, &mut step, &mut read)?,
                Err(e) => step.broken = Some(e),
            }
        }
        step.enrolled = std::mem::take(&mut read.enrolled);
        (step.entries, step.known) = (read.entries, read.known);
        step.refused = read.refused;
        step.refused.append(&mut read.damaged);
        Ok(step)
    }

    /// Advances the session's state machine by one input.
    fn advance(&self, session: &mut Session, input: PeerInput) -> Result<Vec<Effect>, SessionError> {
        let size = |log: &LogId, from: u64, to: u64| {
            // An entry that cannot be read counts 0 bytes here; `frame` reports it.
            let lengths = self.journal.entries(log, from, to);
            lengths.map(|r| r.map_or(0, |(_, b)| b.len() as u64)).sum()
        };
        match input {
            PeerInput::Message(message) => session.handle(&self.book, message, &size),
            PeerInput::Grown => session.offer(&self.book, &size),
        }
    }

    /// Carries out what the state machine asks for, including what that leads to.
    fn carry_out(
        &mut self,
        session: &mut Session,
        effects: Vec<Effect>,
        step: &mut PeerStep,
        read: &mut BundleRead,
    ) -> Result<(), NodeError> {
        let mut waiting: VecDeque<Effect> = effects.into();
        while let Some(effect) = waiting.pop_front() {
            step.level = matches!(effect, Effect::InSync);
            match effect {
                Effect::Send(message) => step.send.push(message),
                Effect::InSync => {}
                Effect::Gather(group) => {
                    let bytes = self.frame(&group)?.encode()?;
                    step.offered += group.entries();
                    waiting.extend(session.gathered(bytes));
                }
                Effect::Admit { number, frame } => {
                    let waited = read.waited;
                    for refusal in self.take_in(&frame, read)? {
                        self.keep_refused(refusal, &frame, read)?;
                    }
                    waiting.extend(session.durable(number, &frame));
                    if read.waited > waited {
                        waiting.extend(session.holds_more(&self.book));
                    }
                }
                Effect::Learn(credentials) => {
                    read.refused.extend(self.learn_credentials(credentials));
                    read.enrolled.extend(self.enrol_newcomers()?);
                }
            }
        }
        Ok(())
    }

    /// Sends an enrolment that was just written before the acknowledgements, because the new device ends its merge with the last
    /// acknowledgement. Frames that wait to be sent go before it, because the enrolment depends on their entries.
    fn offer_before_acks(
        &mut self,
        session: &mut Session,
        step: &mut PeerStep,
        read: &mut BundleRead,
    ) -> Result<(), NodeError> {
        let is_last = |message: &Message| matches!(message, Message::Ack { .. } | Message::Done);
        let (later, first) = std::mem::take(&mut step.send)
            .into_iter()
            .partition::<Vec<_>, _>(is_last);
        step.send = first;
        match self.advance(session, PeerInput::Grown) {
            Ok(effects) => self.carry_out(session, effects, step, read)?,
            Err(e) => step.broken = Some(e),
        }
        step.send.extend(later);
        Ok(())
    }

    /// Notes a refusal, and keeps the frame as evidence where its signature proves something about its writer.
    fn keep_refused(&mut self, refusal: GateError, frame: &Frame, read: &mut BundleRead) -> Result<(), NodeError> {
        let raw = frame.encode()?;
        let place = match &refusal {
            GateError::Unsigned { log, from, .. } => Some((*log, *from)),
            GateError::Entry { log, seq, .. } => Some((*log, *seq)),
            GateError::Refused(gladhand_logbook::roster::Refusal::Retired { device, .. }) => {
                let run = frame.runs.iter().find(|run| run.log.device == *device);
                run.map(|run| (run.log, run.first))
            }
            _ => None,
        };
        if let Some((log, seq)) = place.filter(|_| self.evidence_has_room()) {
            self.keep_evidence(&format!("refused-{}-{seq}.frame", log.device.short()), &raw)?;
        }
        self.note_refusal(refusal, &raw, read)
    }

    fn evidence_has_room(&self) -> bool {
        let listed = std::fs::read_dir(self.home.layout().evidence());
        listed.is_ok_and(|dir| dir.count() < MAX_EVIDENCE)
    }

    /// Judges the credential of a device that asks to join. A depot enrols the device. Any other node that knows the depot's key
    /// accepts a genuine credential, so that new devices can merge in a yard without a depot.
    ///
    /// # Errors
    /// When the enrolment cannot be written.
    pub fn judge_credential(&mut self, credential: Credential) -> Result<CredentialVerdict, NodeError> {
        let refused = |why: &str| Ok(CredentialVerdict::Refused(why.to_owned()));
        let roster = self.book.roster();
        let device = credential.device;
        let Some(root) = roster.root() else {
            return refused("this node has not joined a depot itself");
        };
        if !credential.is_genuine(&root) {
            return refused("the invite is not from the depot of this node");
        }
        if roster.retired(&device).is_some() {
            return Ok(CredentialVerdict::Retired);
        }
        if roster.used_by(&credential.invite).is_some_and(|user| user != device) {
            return refused("the invite was used by another device; ask the depot for a new one");
        }
        if roster.is_enrolled(&device) {
            return Ok(CredentialVerdict::Admitted { enrolled: true });
        }
        if let Some(why) = self.learn_credentials(vec![credential]).into_iter().next() {
            return Ok(CredentialVerdict::Refused(why));
        }
        self.enrol_newcomers()?;
        let roster = self.book.roster();
        match roster.admits(&device) {
            Ok(()) => Ok(CredentialVerdict::Admitted {
                enrolled: roster.is_enrolled(&device),
            }),
            Err(refusal) => Ok(CredentialVerdict::Refused(refusal.to_string())),
        }
    }

    /// The newest clock reading between this node and `peer`, read by either of them, converted to this node's view.
    pub fn clock_against(&self, peer: &DeviceKey) -> Option<ClockReading> {
        let (roster, own) = (self.book.roster(), self.device());
        let ours = roster.last_reading(&own, peer).copied();
        let theirs = roster.last_reading(peer, &own).map(|r| ClockReading {
            device: own,
            peer: *peer,
            offset_us: r.offset_us.saturating_neg(),
            at_us: r.at_us.saturating_add(r.offset_us),
            ..*r
        });
        ours.into_iter().chain(theirs).max_by_key(|r| r.at_us)
    }

    /// Records a clock reading, if [`crate::clock::is_news`]. Returns whether it was recorded. One that had to wait is not: what was
    /// recorded meanwhile would count as earlier.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn note_clock(&mut self, reading: &ClockReading) -> Result<bool, NodeError> {
        let last = self.clock_against(&reading.peer);
        let waited_us = self.environment.now_us().saturating_sub(reading.at_us);
        let is_old = reading.device == self.device() && waited_us > WRITTEN_WITHIN_US;
        if is_old || !crate::clock::is_news(last.as_ref(), reading) {
            return Ok(false);
        }
        self.govern(vec![Rule::Clock {
            peer: reading.peer,
            offset_us: reading.offset_us,
            delay_us: reading.delay_us,
            at_us: reading.at_us,
        }])?;
        Ok(true)
    }

    /// Retires a device: entries of its newest log after `after` no longer count anywhere. Without `after`, everything that this
    /// depot holds of the device counts. Returns the last entry of each log that counts.
    ///
    /// # Errors
    /// On a node that is no depot, or for a device that cannot be retired.
    pub fn retire(
        &mut self,
        device: &DeviceKey,
        after: Option<u64>,
        why: &str,
    ) -> Result<BTreeMap<String, u64>, RetireError> {
        if self.config.role != Role::Depot {
            return Err(RetireError::NotADepot);
        }
        if *device == self.device() {
            return Err(RetireError::Itself);
        }
        let held = self.book.vector();
        let mut last: Vec<(LogId, u64)> = held.iter().filter(|(log, _)| log.device == *device).collect();
        last.sort_by_key(|(log, _)| log.incarnation);
        if let Some(after) = after {
            match last.last_mut() {
                Some((_, seq)) if after <= *seq => *seq = after,
                Some((_, held)) => return Err(RetireError::Beyond { held: *held }),
                None => return Err(RetireError::NothingHeld),
            }
        }
        let last: BTreeMap<String, u64> = last.iter().map(|(l, s)| (l.to_string(), *s)).collect();
        self.govern(vec![Rule::Retire {
            device: *device,
            last: last.clone(),
            why: why.to_owned(),
        }])?;
        Ok(last)
    }
}
