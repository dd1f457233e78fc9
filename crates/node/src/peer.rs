//! What sessions with peers ask of the node: start, take a step, judge a credential, record a clock reading.
//!
//! A step takes the messages that have come in and returns the messages to send. Everything in between (gate, fsync, index)
//! happens here, so that whoever asks the node between two steps sees book, journal and index agree.
//!
//! Deliberately absent: sockets, timeouts, and who may connect (that is the crate `net`'s, which asks [`Node::trusted`]).

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use gladhand_facts::{DeviceKey, LogId};
use gladhand_logbook::GateError;
use gladhand_logbook::exchange::{Effect, Message, Session, SessionError};
use gladhand_logbook::frame::Frame;
use gladhand_logbook::governance::{Credential, Record as Rule};
use gladhand_logbook::roster::ClockReading;
use tokio::sync::watch;

use crate::config::Role;
use crate::error::{NodeError, RetireError};
use crate::merge::BundleRead;
use crate::node::Node;
use crate::progress::Silent;

/// The most refused frames that are kept as evidence.
const MAX_EVIDENCE: usize = 64;

/// What a session is told.
#[derive(Debug)]
pub enum PeerInput {
    /// The peer sent this.
    Message(Message),
    /// This node holds more than before.
    Grown,
}

/// What came of a step.
#[derive(Debug, Default)]
pub struct PeerStep {
    /// To send, in this order.
    pub send: Vec<Message>,
    /// Both sides hold the same now, as far as each will take it. May be over again with the next message.
    pub level: bool,
    /// New entries, durable here.
    pub entries: u64,
    /// Entries that came although they were here.
    pub known: u64,
    /// Entries in the frames to send.
    pub offered: u64,
    /// What was refused, in words.
    pub refused: Vec<String>,
    /// Devices that this depot has just enrolled.
    pub enrolled: Vec<String>,
    /// The session cannot go on.
    pub broken: Option<SessionError>,
}

/// What became of a shown credential.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Judged {
    /// The device may open sessions here.
    Admitted {
        /// Whether it stands on the depot's roster now; otherwise this node only believes the credential.
        enrolled: bool,
    },
    /// It may not, for this reason.
    Refused(String),
}

/// Whom this node talks to, and what it needs to know to do so.
#[derive(Debug, Clone, Default)]
pub struct Trusted {
    /// The keys.
    pub keys: BTreeSet<DeviceKey>,
    /// What devices are called, also those that were retired.
    pub names: BTreeMap<DeviceKey, String>,
    /// The depot, when this node knows of it and was not enrolled by it yet as far as it knows, with the credential to show.
    pub to_show: Option<(DeviceKey, Credential)>,
}

impl Node {
    /// A receiver that is told after every commit.
    pub fn growth(&self) -> watch::Receiver<u64> {
        self.grown.subscribe()
    }

    /// The secret that this node's key is made from, for the transport's own signatures.
    pub fn transport_seed(&self) -> zeroize::Zeroizing<[u8; 32]> {
        zeroize::Zeroizing::new(*self.home.key_seed())
    }

    /// Whom this node talks to: every device that may write and was not retired.
    pub fn trusted(&self) -> Trusted {
        let (roster, own) = (self.book.roster(), self.device());
        let admitted = |d: &DeviceKey| roster.admits(d).is_ok() && roster.retired(d).is_none();
        let devices = roster.devices();
        let names = devices.iter().map(|device| (*device, roster.name(device))).collect();
        let keys = devices.into_iter().filter(admitted).collect();
        let root = roster.root().filter(|root| *root != own && !roster.is_enrolled(&own));
        let to_show = root.and_then(|root| Some((root, roster.credential(&own)?.clone())));
        Trusted { keys, names, to_show }
    }

    /// Starts a session; the messages say hello.
    pub fn peer_start(&self) -> (Session, Vec<Message>) {
        let (session, effects) = Session::start(&self.book, self.device(), self.environment.now_us());
        let hello = effects.into_iter().filter_map(|effect| match effect {
            Effect::Send(message) => Some(message),
            _ => None,
        });
        (session, hello.collect())
    }

    /// Lets a session take what has come in.
    ///
    /// # Errors
    /// When the disk refuses: throw the session away. What was acknowledged is durable.
    pub fn peer_step(&mut self, session: &mut Session, inputs: Vec<PeerInput>) -> Result<PeerStep, NodeError> {
        let mut step = PeerStep::default();
        let mut taken = BundleRead::default();
        let mut outcome = Ok(());
        for input in inputs {
            match self.feed(session, input) {
                Ok(effects) => outcome = self.carry_out(session, effects, &mut step, &mut taken),
                Err(e) => step.broken = Some(e),
            }
            if outcome.is_err() || step.broken.is_some() {
                break;
            }
        }
        // The index follows whatever was committed, also when the rest failed, now or the last time.
        self.catch_up(&Silent)?;
        outcome?;
        if taken.entries > 0 {
            taken.enrolled.extend(self.enrol_newcomers()?);
        }
        if !taken.enrolled.is_empty() {
            self.offer_first(session, &mut step, &mut taken)?;
        }
        if step.level && self.say_again_to(session.peer())? {
            match self.feed(session, PeerInput::Grown) {
                Ok(effects) => self.carry_out(session, effects, &mut step, &mut taken)?,
                Err(e) => step.broken = Some(e),
            }
        }
        step.enrolled = std::mem::take(&mut taken.enrolled);
        (step.entries, step.known) = (taken.entries, taken.known);
        step.refused = taken.refused;
        step.refused.append(&mut taken.damaged);
        Ok(step)
    }

    fn feed(&self, session: &mut Session, input: PeerInput) -> Result<Vec<Effect>, SessionError> {
        let size = |log: &LogId, from: u64, to: u64| {
            let lengths = self.journal.entries(log, from, to);
            lengths.map(|r| r.map_or(0, |(_, b)| b.len() as u64)).sum()
        };
        match input {
            PeerInput::Message(message) => session.handle(&self.book, message, &size),
            PeerInput::Grown => session.offer(&self.book, &size),
        }
    }

    fn carry_out(
        &mut self,
        session: &mut Session,
        effects: Vec<Effect>,
        step: &mut PeerStep,
        taken: &mut BundleRead,
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
                    for refusal in self.take_in(&frame, taken)? {
                        self.set_aside(refusal, &frame, taken)?;
                    }
                    waiting.extend(session.durable(number, &frame));
                }
                Effect::Learn(credentials) => {
                    taken.refused.extend(self.learn_credentials(credentials));
                    taken.enrolled.extend(self.enrol_newcomers()?);
                }
            }
        }
        Ok(())
    }

    /// Puts the enrolment that has just been written before the acknowledgements: whoever joins has it before it can think
    /// that there is nothing more to come. Frames that wait to be sent come before it, for it follows what they hold.
    fn offer_first(
        &mut self,
        session: &mut Session,
        step: &mut PeerStep,
        taken: &mut BundleRead,
    ) -> Result<(), NodeError> {
        let is_last = |message: &Message| matches!(message, Message::Ack { .. } | Message::Done);
        let (later, first) = std::mem::take(&mut step.send)
            .into_iter()
            .partition::<Vec<_>, _>(is_last);
        step.send = first;
        match self.feed(session, PeerInput::Grown) {
            Ok(effects) => self.carry_out(session, effects, step, taken)?,
            Err(e) => step.broken = Some(e),
        }
        step.send.extend(later);
        Ok(())
    }

    /// Notes a refusal, and keeps the signed original where it says something about its writer.
    fn set_aside(&mut self, refusal: GateError, frame: &Frame, taken: &mut BundleRead) -> Result<(), NodeError> {
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
        self.note_refusal(refusal, &raw, taken)
    }

    fn evidence_has_room(&self) -> bool {
        let listed = std::fs::read_dir(self.home.layout().evidence());
        listed.is_ok_and(|dir| dir.count() < MAX_EVIDENCE)
    }

    /// Judges the credential of a device that wants to join. A depot enrols it; any other node that knows the depot's key
    /// believes it, so that newcomers can merge in a yard that no depot reaches.
    ///
    /// # Errors
    /// When the enrolment cannot be written.
    pub fn judge_credential(&mut self, credential: Credential) -> Result<Judged, NodeError> {
        let refused = |why: &str| Ok(Judged::Refused(why.to_owned()));
        let roster = self.book.roster();
        let device = credential.device;
        let Some(root) = roster.root() else {
            return refused("this node has not joined a depot itself");
        };
        if !credential.is_genuine(&root) {
            return refused("the invite is not from the depot of this node");
        }
        if roster.retired(&device).is_some() {
            return refused("this device was retired by the depot");
        }
        if roster.used_by(&credential.invite).is_some_and(|user| user != device) {
            return refused("the invite was used by another device; ask the depot for a new one");
        }
        if roster.is_enrolled(&device) {
            return Ok(Judged::Admitted { enrolled: true });
        }
        if let Some(why) = self.learn_credentials(vec![credential]).into_iter().next() {
            return Ok(Judged::Refused(why));
        }
        self.enrol_newcomers()?;
        let roster = self.book.roster();
        match roster.admits(&device) {
            Ok(()) => Ok(Judged::Admitted {
                enrolled: roster.is_enrolled(&device),
            }),
            Err(refusal) => Ok(Judged::Refused(refusal.to_string())),
        }
    }

    /// The newest clock reading between this node and `peer`, whoever of the two took it; seen from here.
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

    /// Records a clock reading, if it says something that the last one does not.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn note_clock(&mut self, reading: &ClockReading) -> Result<bool, NodeError> {
        let last = self.clock_against(&reading.peer);
        if !crate::clock::is_news(last.as_ref(), reading) {
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

    /// Takes a device off the roster: what stands after `after` (the place in its newest log) counts nowhere any more. Without
    /// it, everything that this depot holds of the device counts. Returns the places.
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
