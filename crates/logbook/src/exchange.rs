//! The exchange as a state machine: two nodes, a carrier that keeps order, no input or output of its own.
//!
//! Each side says [`Message::Hello`] with a digest of its whole history. Equal digests: done, in one round trip,
//! whatever the history. Otherwise each tells its vector and streams the frames that the other lacks. A frame is
//! acknowledged only when the receiver has made it durable; the receiver's vector is the only resume point there is.
//!
//! ```text
//! Greeting -- hello, equal digests --------------------------------> Level
//! Greeting -- hello, other digests --> Comparing -- vector --> Streaming
//! Streaming -- everything sent is acknowledged, and the other said Done --> Level
//! Level -- new entries here, or a frame --> Streaming
//! ```
//!
//! The driver owns the book and the bytes: it feeds messages in with [`Session::handle`], carries out the returned
//! [`Effect`]s, and reports back with [`Session::durable`]. Deliberately absent: timeouts, retries, sockets. A session that is cut is
//! thrown away and a new one started.
//!
//! A vector says what its sender holds **or will never take** (a retired device's log beyond its end counts as held), so that
//! nobody offers it again and again. Beside each log stand the first bytes of its head's hash: two logs of one length with
//! different heads are a fork, and each side then sends its signed end as evidence.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use gladhand_facts::{DeviceKey, LogId, VersionVector};

use crate::book::Book;
use crate::frame::{Frame, FrameError};
use crate::governance::Credential;
use crate::plan::{self, Group};
use crate::wire::{self, Reader, WireError};

/// The protocol that this version speaks.
pub const PROTOCOL: u64 = 1;
/// How many frames may be under way without an acknowledgement,
const WINDOW: usize = 8;
/// and how many bytes, so that a slow peer does not make us hold many large ones; a single frame may be larger.
const WINDOW_BYTES: usize = 1 << 20;
const MAX_LOGS: u64 = 1 << 20;
const MAX_TEXT: u64 = 1 << 20;

/// The first bytes of the hash of a log's head: enough to tell two heads apart.
pub type HeadMark = [u8; 8];

/// Tells the bytes of a stretch: log, from, to.
pub type SizeOf<'a> = &'a dyn Fn(&LogId, u64, u64) -> u64;

/// What one side tells the other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Message {
    /// Who speaks, and the digest of its history.
    Hello {
        /// The protocol it speaks.
        protocol: u64,
        /// The device.
        node: DeviceKey,
        /// [`Book::digest`].
        digest: [u8; 32],
        /// Its wall clock when it sent this, in microseconds since 1970.
        sent_us: i64,
    },
    /// What it holds or will never take, and the credentials that it knows.
    Vector {
        /// What it holds.
        vector: VersionVector,
        /// The first bytes of the hash of each of these logs' heads.
        heads: BTreeMap<LogId, HeadMark>,
        /// Credentials.
        credentials: Vec<Credential>,
    },
    /// Credentials that it has come to know since; they stand before the frames that need them.
    Credentials(Vec<Credential>),
    /// A frame, numbered from 1 within the session.
    Frame {
        /// Its number.
        number: u64,
        /// Its bytes.
        bytes: Vec<u8>,
    },
    /// Everything up to this frame is durable, or refused for good.
    Ack {
        /// The frame's number.
        number: u64,
    },
    /// Nothing more to send for now.
    Done,
}

/// What the driver has to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Effect {
    /// Send this.
    Send(Message),
    /// Gather and encode this group and give it back through [`Session::gathered`].
    Gather(Group),
    /// Judge this frame with [`Book::admit`], make it durable, apply it, then call [`Session::durable`].
    TakeIn {
        /// The frame's number.
        number: u64,
        /// The frame.
        frame: Frame,
    },
    /// Learn these credentials before the next frame.
    Learn(Vec<Credential>),
    /// Both sides hold the same, as far as each will take it.
    Level,
}

/// Why a session cannot go on.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SessionError {
    /// The other side speaks another protocol.
    #[error("the peer speaks exchange protocol {0}; this version speaks {PROTOCOL}")]
    Protocol(u64),
    /// A message that has no place in this state.
    #[error("the peer sent {0} where it has no place")]
    OutOfPlace(&'static str),
    /// A frame that does not read.
    #[error(transparent)]
    Frame(#[from] FrameError),
    /// A message that does not read.
    #[error("message: {0}")]
    Wire(#[from] WireError),
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum ExchangeState {
    Greeting,
    Comparing,
    Streaming,
    Level,
}

/// One exchange with one peer.
#[derive(Debug)]
pub struct Session {
    state: ExchangeState,
    /// What our hello spoke of: the book may have grown when the peer's arrives.
    told: ([u8; 32], VersionVector),
    /// What the peer holds, or will once it has taken in what is under way.
    theirs: VersionVector,
    /// Whose credentials the peer has seen, or needs none of.
    shown: BTreeSet<DeviceKey>,
    queue: VecDeque<Group>,
    gathering: bool,
    /// The book has grown while we were busy.
    stale: bool,
    sent: u64,
    /// The lengths of the frames under way, in the order in which they were sent.
    under_way: VecDeque<usize>,
    done_sent: bool,
    done_received: bool,
    peer: Option<DeviceKey>,
}

impl Session {
    /// Starts a session; the first effect says hello.
    pub fn start(book: &Book, node: DeviceKey, now_us: i64) -> (Self, Vec<Effect>) {
        let digest = book.digest();
        let session = Self {
            state: ExchangeState::Greeting,
            told: (digest, book.vector()),
            theirs: VersionVector::new(),
            shown: BTreeSet::new(),
            queue: VecDeque::new(),
            gathering: false,
            stale: false,
            sent: 0,
            under_way: VecDeque::new(),
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

    /// Whether both sides hold the same, as far as each will take it.
    pub fn is_level(&self) -> bool {
        self.state == ExchangeState::Level
    }

    /// What the peer holds, or will once it has taken in what is under way.
    pub fn theirs(&self) -> &VersionVector {
        &self.theirs
    }

    /// Takes in a message.
    ///
    /// # Errors
    /// [`SessionError`]: throw the session away; everything durable stays.
    pub fn handle(&mut self, book: &Book, message: Message, size: SizeOf<'_>) -> Result<Vec<Effect>, SessionError> {
        match (&self.state, message) {
            (
                ExchangeState::Greeting,
                Message::Hello {
                    protocol, node, digest, ..
                },
            ) => self.greet(book, protocol, node, digest, size),
            (
                ExchangeState::Comparing,
                Message::Vector {
                    vector,
                    heads,
                    credentials,
                },
            ) => {
                self.theirs = without_forks(book, vector, &heads);
                self.state = ExchangeState::Streaming;
                let mut effects = Vec::new();
                if !credentials.is_empty() {
                    self.shown.extend(credentials.iter().map(|c| c.device));
                    effects.push(Effect::Learn(credentials));
                }
                effects.extend(self.offer(book, size));
                Ok(effects)
            }
            (ExchangeState::Streaming | ExchangeState::Level, Message::Credentials(credentials)) => {
                self.shown.extend(credentials.iter().map(|c| c.device));
                Ok(vec![Effect::Learn(credentials)])
            }
            (ExchangeState::Streaming | ExchangeState::Level, Message::Frame { number, bytes }) => {
                let frame = Frame::decode(&bytes)?;
                // Whoever streams says Done once more at the end of it.
                (self.state, self.done_received) = (ExchangeState::Streaming, false);
                Ok(vec![Effect::TakeIn { number, frame }])
            }
            (ExchangeState::Streaming | ExchangeState::Level, Message::Ack { number }) if number <= self.sent => {
                let left = usize::try_from(self.sent - number).unwrap_or(usize::MAX);
                while self.under_way.len() > left {
                    self.under_way.pop_front();
                }
                if self.stale && self.queue.is_empty() && !self.gathering {
                    return Ok(self.offer(book, size));
                }
                Ok(self.go_on())
            }
            (ExchangeState::Streaming | ExchangeState::Level, Message::Done) => {
                self.done_received = true;
                Ok(self.settle())
            }
            (_, Message::Hello { .. }) => Err(SessionError::OutOfPlace("a hello")),
            (_, Message::Vector { .. }) => Err(SessionError::OutOfPlace("a vector")),
            (_, Message::Credentials(_)) => Err(SessionError::OutOfPlace("credentials")),
            (_, Message::Frame { .. }) => Err(SessionError::OutOfPlace("a frame")),
            (_, Message::Ack { .. }) => Err(SessionError::OutOfPlace("an acknowledgement")),
            (_, Message::Done) => Err(SessionError::OutOfPlace("a done")),
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
        let (ours, held) = std::mem::take(&mut self.told);
        if digest == ours {
            // Equal histories hold equal records, and so equal credentials.
            self.shown = book.roster().devices().into_iter().collect();
            (self.state, self.done_sent, self.done_received) = (ExchangeState::Level, true, true);
            self.theirs = held;
            let mut effects = vec![Effect::Level];
            effects.extend(self.offer(book, size));
            return Ok(effects);
        }
        self.state = ExchangeState::Comparing;
        Ok(vec![Effect::Send(Message::Vector {
            vector: held_or_unwanted(book),
            heads: heads(book),
            credentials: self.unshown(book),
        })])
    }

    /// The credentials that the peer has not seen in this session.
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

    /// Call when the book has grown by something that did not come from this peer.
    pub fn offer(&mut self, book: &Book, size: SizeOf<'_>) -> Vec<Effect> {
        if !matches!(self.state, ExchangeState::Streaming | ExchangeState::Level) {
            // What is held then is looked at when the peer's vector is here.
            return Vec::new();
        }
        if !self.queue.is_empty() || self.gathering {
            self.stale = true;
            return Vec::new();
        }
        self.stale = false;
        let groups = plan::plan(book, &self.theirs, size, &|_| true);
        if groups.is_empty() && self.done_sent {
            return Vec::new();
        }
        self.state = ExchangeState::Streaming;
        self.done_sent = false;
        self.queue = groups.into();
        let mut effects = Vec::new();
        let credentials = self.unshown(book);
        if !credentials.is_empty() {
            effects.push(Effect::Send(Message::Credentials(credentials)));
        }
        effects.extend(self.go_on());
        effects
    }

    fn go_on(&mut self) -> Vec<Effect> {
        let bytes: usize = self.under_way.iter().sum();
        if self.gathering || self.under_way.len() >= WINDOW || bytes >= WINDOW_BYTES {
            return Vec::new();
        }
        match self.queue.pop_front() {
            Some(group) => {
                self.gathering = true;
                group.advance(&mut self.theirs);
                vec![Effect::Gather(group)]
            }
            None if !self.done_sent && self.under_way.is_empty() && !self.stale => {
                self.done_sent = true;
                let mut effects = vec![Effect::Send(Message::Done)];
                effects.extend(self.settle());
                effects
            }
            None => self.settle(),
        }
    }

    /// The bytes of the group that was asked for.
    pub fn gathered(&mut self, bytes: Vec<u8>) -> Vec<Effect> {
        self.gathering = false;
        self.sent += 1;
        self.under_way.push_back(bytes.len());
        let mut effects = vec![Effect::Send(Message::Frame {
            number: self.sent,
            bytes,
        })];
        effects.extend(self.go_on());
        effects
    }

    /// The frame is durable (or refused for good): what of it is held now is in the book.
    pub fn durable(&mut self, number: u64, frame: &Frame) -> Vec<Effect> {
        for run in &frame.runs {
            self.theirs.advance(run.log, run.last());
        }
        vec![Effect::Send(Message::Ack { number })]
    }

    fn settle(&mut self) -> Vec<Effect> {
        let quiet = self.done_sent && self.done_received && self.queue.is_empty() && !self.gathering;
        if quiet && self.state == ExchangeState::Streaming {
            self.state = ExchangeState::Level;
            vec![Effect::Level]
        } else {
            Vec::new()
        }
    }
}

/// What is held, with the logs of retired devices counted as held to their end where their end is reached.
fn held_or_unwanted(book: &Book) -> VersionVector {
    let mut vector = book.vector();
    for (log, head) in book.vector().iter() {
        let cut = book.roster().retired(&log.device);
        if cut.is_some_and(|cut| cut.get(&log) <= head) {
            vector.advance(log, u64::MAX);
        }
    }
    vector
}

fn heads(book: &Book) -> BTreeMap<LogId, HeadMark> {
    let mark = |(log, _): (LogId, u64)| (log, mark_of(book, &log));
    book.vector().iter().map(mark).collect()
}

fn mark_of(book: &Book, log: &LogId) -> HeadMark {
    book.head(log).1.0.first_chunk::<8>().copied().unwrap_or_default()
}

/// What the peer holds, taken back before the last signed stretch of each log whose head differs from ours at the same place:
/// so that it gets our signed end, and with it the evidence.
fn without_forks(book: &Book, mut theirs: VersionVector, heads: &BTreeMap<LogId, HeadMark>) -> VersionVector {
    for (log, head) in book.vector().iter() {
        let differs = heads.get(&log).is_some_and(|mark| *mark != mark_of(book, &log));
        if differs && theirs.get(&log) == head {
            let before = book.checkpoints(&log, 0, head.saturating_sub(1)).last().unwrap_or(0);
            theirs.cut(&log, before);
        }
    }
    theirs
}

const TAG_HELLO: u8 = 1;
const TAG_VECTOR: u8 = 2;
const TAG_FRAME: u8 = 3;
const TAG_ACK: u8 = 4;
const TAG_DONE: u8 = 5;
const TAG_CREDENTIALS: u8 = 6;

impl Message {
    /// The bytes of a message; the carrier adds a length.
    pub fn encode(&self) -> Vec<u8> {
        let mut out = Vec::new();
        match self {
            Self::Hello {
                protocol,
                node,
                digest,
                sent_us,
            } => {
                out.push(TAG_HELLO);
                wire::put_number(&mut out, *protocol);
                out.extend_from_slice(&node.0);
                out.extend_from_slice(digest);
                wire::put_signed(&mut out, *sent_us);
            }
            Self::Vector {
                vector,
                heads,
                credentials,
            } => {
                out.push(TAG_VECTOR);
                wire::put_number(&mut out, vector.len() as u64);
                for (log, seq) in vector.iter() {
                    wire::put_log(&mut out, &log);
                    wire::put_number(&mut out, seq);
                    out.extend_from_slice(heads.get(&log).unwrap_or(&HeadMark::default()));
                }
                put_credentials(&mut out, credentials);
            }
            Self::Credentials(credentials) => {
                out.push(TAG_CREDENTIALS);
                put_credentials(&mut out, credentials);
            }
            Self::Frame { number, bytes } => {
                out.push(TAG_FRAME);
                wire::put_number(&mut out, *number);
                out.extend_from_slice(bytes);
            }
            Self::Ack { number } => {
                out.push(TAG_ACK);
                wire::put_number(&mut out, *number);
            }
            Self::Done => out.push(TAG_DONE),
        }
        out
    }

    /// Reads a message.
    ///
    /// # Errors
    /// [`SessionError::Wire`].
    pub fn decode(bytes: &[u8]) -> Result<Self, SessionError> {
        let mut reader = Reader::new(bytes);
        let message = match reader.byte("a message")? {
            TAG_HELLO => Self::Hello {
                protocol: reader.number("a hello")?,
                node: DeviceKey(reader.array("a hello")?),
                digest: reader.array("a hello")?,
                sent_us: reader.signed("a hello")?,
            },
            TAG_VECTOR => read_vector(&mut reader)?,
            TAG_CREDENTIALS => Self::Credentials(read_credentials(&mut reader)?),
            TAG_FRAME => {
                let number = reader.number("a frame")?;
                return Ok(Self::Frame {
                    number,
                    bytes: reader.rest().to_vec(),
                });
            }
            TAG_ACK => Self::Ack {
                number: reader.number("an acknowledgement")?,
            },
            TAG_DONE => Self::Done,
            _ => return Err(WireError::Number("a message's kind").into()),
        };
        reader.end("a message")?;
        Ok(message)
    }
}

fn put_credentials(out: &mut Vec<u8>, credentials: &[Credential]) {
    wire::put_blob(out, &serde_json::to_vec(credentials).unwrap_or_default());
}

fn read_credentials(reader: &mut Reader<'_>) -> Result<Vec<Credential>, WireError> {
    let json = reader.blob(MAX_TEXT, "credentials")?;
    serde_json::from_slice(json).map_err(|_| WireError::Utf8("credentials"))
}

fn read_vector(reader: &mut Reader<'_>) -> Result<Message, WireError> {
    let mut vector = VersionVector::new();
    let mut heads = BTreeMap::new();
    for _ in 0..reader.count(MAX_LOGS, "a vector")? {
        let log = reader.log("a vector")?;
        let (seq, head) = (reader.number("a vector")?, reader.array("a vector")?);
        vector.advance(log, seq);
        // An empty log has no head.
        if seq > 0 {
            heads.insert(log, head);
        }
    }
    let credentials = read_credentials(reader)?;
    Ok(Message::Vector {
        vector,
        heads,
        credentials,
    })
}
