//! One exchange with one peer.

use std::collections::{BTreeSet, VecDeque};

use gladhand_facts::{DeviceKey, LogId, VersionVector};

use super::error::SessionError;
use super::message::{Message, PROTOCOL};
use super::resume::{held_or_unwanted, without_forks};
use crate::book::Book;
use crate::frame::Frame;
use crate::governance::{Credential, CredentialList};
use crate::plan::{self, Group};

/// How many frames may be in flight without an acknowledgement,
const WINDOW: usize = 8;
/// and how many bytes, so that a slow peer does not make us hold many large ones. A single frame may be larger.
const WINDOW_BYTES: usize = 1 << 20;

/// Gives the bytes of a stretch: log, from, to.
pub type SizeOf<'a> = &'a dyn Fn(&LogId, u64, u64) -> u64;

/// What the driver has to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Effect {
    /// Send this.
    Send(Message),
    /// Gather and encode this group, and pass it to [`Session::gathered`].
    Gather(Group),
    /// Judge this frame with [`Book::admit`], make it durable, apply it, then call [`Session::durable`].
    Admit {
        /// The frame's number.
        number: u64,
        /// The frame.
        frame: Frame,
    },
    /// Learn these credentials before the next frame.
    Learn(Vec<Credential>),
    /// Both sides hold the same, as far as each accepts it.
    InSync,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum ExchangeState {
    Greeting,
    Comparing,
    Streaming,
    InSync,
}

/// See the module doc.
#[derive(Debug)]
pub struct Session {
    state: ExchangeState,
    /// Digest and vector of our hello: the book may have grown when the peer's arrives.
    greeted_with: ([u8; 32], VersionVector),
    /// What the peer holds, or will once it has let in what is in flight.
    theirs: VersionVector,
    /// The devices whose credentials the peer has seen, or does not need.
    shown: BTreeSet<DeviceKey>,
    queue: VecDeque<Group>,
    gathering: bool,
    /// The book has grown while groups were still queued.
    book_grew: bool,
    sent: u64,
    /// The lengths of the frames in flight, in the order in which they were sent.
    in_flight: VecDeque<usize>,
    done_sent: bool,
    done_received: bool,
    peer: Option<DeviceKey>,
}

impl Session {
    /// Starts a session; the first effect sends a hello.
    pub fn start(book: &Book, node: DeviceKey, now_us: i64) -> (Self, Vec<Effect>) {
        let digest = book.digest();
        let session = Self {
            state: ExchangeState::Greeting,
            greeted_with: (digest, book.vector()),
            theirs: VersionVector::new(),
            shown: BTreeSet::new(),
            queue: VecDeque::new(),
            gathering: false,
            book_grew: false,
            sent: 0,
            in_flight: VecDeque::new(),
            done_sent: false,
            done_received: false,
            peer: None,
        };
        let hello = Message::Hello {
            protocol: PROTOCOL,
            node,
            digest,
            sent_us: now_us,
        };
        (session, vec![Effect::Send(hello)])
    }

    /// The peer, once it has said hello.
    pub fn peer(&self) -> Option<DeviceKey> {
        self.peer
    }

    /// Whether both sides hold the same, as far as each accepts it.
    pub fn is_in_sync(&self) -> bool {
        self.state == ExchangeState::InSync
    }

    /// Whether the peer has nothing more to send, as far as it has said. It may still lack something.
    pub fn peer_is_done(&self) -> bool {
        self.done_received
    }

    /// What the peer holds, or will once it has let in what is in flight.
    pub fn theirs(&self) -> &VersionVector {
        &self.theirs
    }

    /// Handles a message.
    ///
    /// # Errors
    /// [`SessionError`]: drop the session; everything durable stays.
    pub fn handle(&mut self, book: &Book, message: Message, size: SizeOf<'_>) -> Result<Vec<Effect>, SessionError> {
        use ExchangeState::{Comparing, Greeting, InSync, Streaming};
        match (&self.state, message) {
            (
                Greeting,
                Message::Hello {
                    protocol, node, digest, ..
                },
            ) => self.greet(book, protocol, node, digest, size),
            (Comparing, Message::Vector { held, credentials }) => {
                self.theirs = without_forks(book, &held);
                self.state = Streaming;
                let mut effects = Vec::new();
                if !credentials.is_empty() {
                    effects.push(self.learn(credentials));
                }
                effects.extend(self.offer(book, size)?);
                Ok(effects)
            }
            (Streaming | InSync, Message::Vector { held, .. }) => {
                // It holds more than we were told, so what is queued is planned again.
                self.theirs.merge(&without_forks(book, &held));
                self.queue.clear();
                self.offer(book, size)
            }
            (Streaming | InSync, Message::Credentials(credentials)) => Ok(vec![self.learn(credentials)]),
            (Streaming | InSync, Message::Frame { number, bytes }) => {
                let frame = Frame::decode(&bytes)?;
                // A side that streams says Done again at the end of it.
                (self.state, self.done_received) = (Streaming, false);
                Ok(vec![Effect::Admit { number, frame }])
            }
            (Streaming | InSync, Message::Ack { number }) if number <= self.sent => {
                self.acknowledged(number);
                if self.book_grew && self.queue.is_empty() && !self.gathering {
                    return self.offer(book, size);
                }
                Ok(self.go_on())
            }
            (Streaming | InSync, Message::Done) => {
                self.done_received = true;
                Ok(self.settle())
            }
            (_, message) => Err(SessionError::OutOfPlace(message.name())),
        }
    }

    fn greet(
        &mut self,
        book: &Book,
        protocol: u64,
        node: DeviceKey,
        digest: [u8; 32],
        size: SizeOf<'_>,
    ) -> Result<Vec<Effect>, SessionError> {
        if protocol != PROTOCOL {
            return Err(SessionError::Protocol(protocol));
        }
        self.peer = Some(node);
        let (ours, held) = std::mem::take(&mut self.greeted_with);
        if digest == ours {
            // Equal histories have equal records, and so equal credentials.
            self.shown = book.roster().devices().into_iter().collect();
            (self.state, self.done_sent, self.done_received) = (ExchangeState::InSync, true, true);
            self.theirs = held;
            let mut effects = vec![Effect::InSync];
            effects.extend(self.offer(book, size)?);
            return Ok(effects);
        }
        self.state = ExchangeState::Comparing;
        Ok(vec![Effect::Send(Message::Vector {
            held: held_or_unwanted(book),
            credentials: CredentialList::new(self.unshown(book))?,
        })])
    }

    fn learn(&mut self, credentials: CredentialList) -> Effect {
        self.shown.extend(credentials.iter().map(|c| c.device));
        Effect::Learn(credentials.into_vec())
    }

    fn acknowledged(&mut self, number: u64) {
        while self.in_flight.len() as u64 > self.sent - number {
            self.in_flight.pop_front();
        }
    }

    /// The credentials that the peer has not seen in this session. From now on it has.
    fn unshown(&mut self, book: &Book) -> Vec<Credential> {
        let roster = book.roster();
        let mut found = Vec::new();
        for device in roster.devices() {
            if let Some(credential) = roster.credential(&device).filter(|_| self.shown.insert(device)) {
                found.push(credential.clone());
            }
        }
        found
    }

    /// Call this when the book has grown by something that did not come from this peer.
    ///
    /// # Errors
    /// [`SessionError::Credentials`]: drop the session.
    pub fn offer(&mut self, book: &Book, size: SizeOf<'_>) -> Result<Vec<Effect>, SessionError> {
        if !matches!(self.state, ExchangeState::Streaming | ExchangeState::InSync) {
            // When the peer's vector arrives, what is held then is offered.
            return Ok(Vec::new());
        }
        if !self.queue.is_empty() || self.gathering {
            self.book_grew = true;
            return Ok(Vec::new());
        }
        self.book_grew = false;
        let groups = plan::plan(book, &self.theirs, size, &|_| true);
        if groups.is_empty() && self.done_sent {
            return Ok(Vec::new());
        }
        self.state = ExchangeState::Streaming;
        self.done_sent = false;
        self.queue = groups.into();
        let mut effects = Vec::new();
        let credentials = self.unshown(book);
        if !credentials.is_empty() {
            let credentials = CredentialList::new(credentials)?;
            effects.push(Effect::Send(Message::Credentials(credentials)));
        }
        effects.extend(self.go_on());
        Ok(effects)
    }

    fn go_on(&mut self) -> Vec<Effect> {
        let bytes: usize = self.in_flight.iter().sum();
        if self.gathering || self.in_flight.len() >= WINDOW || bytes >= WINDOW_BYTES {
            return Vec::new();
        }
        match self.queue.pop_front() {
            Some(group) => {
                self.gathering = true;
                group.advance(&mut self.theirs);
                vec![Effect::Gather(group)]
            }
            None if !self.done_sent && self.in_flight.is_empty() && !self.book_grew => {
                self.done_sent = true;
                let mut effects = vec![Effect::Send(Message::Done)];
                effects.extend(self.settle());
                effects
            }
            None => self.settle(),
        }
    }

    /// The bytes of the group that was to be gathered.
    pub fn gathered(&mut self, bytes: Vec<u8>) -> Vec<Effect> {
        self.gathering = false;
        self.sent += 1;
        self.in_flight.push_back(bytes.len());
        let mut effects = vec![Effect::Send(Message::Frame {
            number: self.sent,
            bytes,
        })];
        effects.extend(self.go_on());
        effects
    }

    /// The frame is durable, or refused for good; what was let in of it is in the book.
    pub fn durable(&mut self, number: u64, frame: &Frame) -> Vec<Effect> {
        for run in &frame.runs {
            self.theirs.advance(run.log, run.last());
        }
        vec![Effect::Send(Message::Ack { number })]
    }

    /// Call this when more has come to be held than the frames of this peer had in them, so that it does not send that as well.
    pub fn holds_more(&self, book: &Book) -> Vec<Effect> {
        vec![Effect::Send(Message::Vector {
            held: held_or_unwanted(book),
            credentials: CredentialList::default(),
        })]
    }

    fn settle(&mut self) -> Vec<Effect> {
        let quiet = self.done_sent && self.done_received && self.queue.is_empty() && !self.gathering;
        if quiet && self.state == ExchangeState::Streaming {
            self.state = ExchangeState::InSync;
            vec![Effect::InSync]
        } else {
            Vec::new()
        }
    }
}
