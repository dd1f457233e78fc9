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
//! Level -- new entries here --> Streaming;  Level -- frame --> stays, and acknowledges
//! ```
//!
//! The driver owns the book and the bytes: it feeds messages in with [`Session::handle`], carries out the returned
//! [`Effect`]s, and reports back with [`Session::durable`]. Deliberately absent: timeouts, retries, sockets. A session that is cut is
//! thrown away and a new one started.

use gladhand_facts::{DeviceKey, LogId, VersionVector};

use crate::book::Book;
use crate::frame::{Frame, FrameError};
use crate::governance::Credential;
use crate::plan::{self, Group};
use crate::wire::{self, Reader, WireError};

/// The protocol that this version speaks.
pub const PROTOCOL: u64 = 1;
/// How many frames may be under way without an acknowledgement.
const WINDOW: usize = 8;
const MAX_LOGS: u64 = 1 << 20;
const MAX_TEXT: u64 = 1 << 20;

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
    /// What it holds, and the credentials of devices that the depot has not enrolled yet.
    Vector {
        /// What it holds.
        vector: VersionVector,
        /// Credentials.
        credentials: Vec<Credential>,
    },
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
enum State {
    Greeting,
    Comparing,
    Streaming,
    Level,
}

/// One exchange with one peer.
#[derive(Debug)]
pub struct Session {
    state: State,
    /// What the peer holds, or will once it has taken in what is under way.
    theirs: VersionVector,
    queue: std::collections::VecDeque<Group>,
    gathering: bool,
    sent: u64,
    acknowledged: u64,
    done_sent: bool,
    done_received: bool,
    peer: Option<DeviceKey>,
}

impl Session {
    /// Starts a session; the first effect says hello.
    pub fn start(book: &Book, node: DeviceKey, now_us: i64) -> (Self, Vec<Effect>) {
        let session = Self {
            state: State::Greeting,
            theirs: VersionVector::new(),
            queue: std::collections::VecDeque::new(),
            gathering: false,
            sent: 0,
            acknowledged: 0,
            done_sent: false,
            done_received: false,
            peer: None,
        };
        let hello = Message::Hello {
            protocol: PROTOCOL,
            node,
            digest: book.digest(),
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
        self.state == State::Level
    }

    /// What the peer holds, or will once it has taken in what is under way.
    pub fn theirs(&self) -> &VersionVector {
        &self.theirs
    }

    /// Takes in a message.
    ///
    /// # Errors
    /// [`SessionError`]: throw the session away; everything durable stays.
    pub fn handle(
        &mut self,
        book: &Book,
        message: Message,
        size: &dyn Fn(&LogId, u64, u64) -> u64,
    ) -> Result<Vec<Effect>, SessionError> {
        match (&self.state, message) {
            (
                State::Greeting,
                Message::Hello {
                    protocol, node, digest, ..
                },
            ) => self.greet(book, protocol, node, digest),
            (State::Comparing, Message::Vector { vector, credentials }) => {
                self.theirs = vector;
                self.state = State::Streaming;
                let mut effects = Vec::new();
                if !credentials.is_empty() {
                    effects.push(Effect::Learn(credentials));
                }
                effects.extend(self.offer(book, size));
                Ok(effects)
            }
            (State::Streaming | State::Level, Message::Frame { number, bytes }) => Ok(vec![Effect::TakeIn {
                number,
                frame: Frame::decode(&bytes)?,
            }]),
            (State::Streaming | State::Level, Message::Ack { number }) if number <= self.sent => {
                self.acknowledged = self.acknowledged.max(number);
                Ok(self.go_on())
            }
            (State::Streaming | State::Level, Message::Done) => {
                self.done_received = true;
                Ok(self.settle())
            }
            (_, Message::Hello { .. }) => Err(SessionError::OutOfPlace("a hello")),
            (_, Message::Vector { .. }) => Err(SessionError::OutOfPlace("a vector")),
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
    ) -> Result<Vec<Effect>, SessionError> {
        if protocol != PROTOCOL {
            return Err(SessionError::Protocol(protocol));
        }
        self.peer = Some(node);
        if digest == book.digest() {
            self.theirs = book.vector();
            (self.state, self.done_sent, self.done_received) = (State::Level, true, true);
            return Ok(vec![Effect::Level]);
        }
        self.state = State::Comparing;
        let credentials = book
            .roster()
            .devices()
            .iter()
            .filter_map(|d| book.roster().credential(d).cloned())
            .collect();
        Ok(vec![Effect::Send(Message::Vector {
            vector: book.vector(),
            credentials,
        })])
    }

    /// Call when the book has grown by something that did not come from this peer.
    pub fn offer(&mut self, book: &Book, size: &dyn Fn(&LogId, u64, u64) -> u64) -> Vec<Effect> {
        if !matches!(self.state, State::Streaming | State::Level) || !self.queue.is_empty() || self.gathering {
            return Vec::new();
        }
        let groups = plan::plan(book, &self.theirs, size, &|_| true);
        if groups.is_empty() && self.done_sent {
            return Vec::new();
        }
        self.state = State::Streaming;
        self.done_sent = false;
        self.queue = groups.into();
        self.go_on()
    }

    fn go_on(&mut self) -> Vec<Effect> {
        let under_way = self.sent.saturating_sub(self.acknowledged);
        if self.gathering || under_way >= WINDOW as u64 {
            return Vec::new();
        }
        match self.queue.pop_front() {
            Some(group) => {
                self.gathering = true;
                group.advance(&mut self.theirs);
                vec![Effect::Gather(group)]
            }
            None if !self.done_sent && under_way == 0 => {
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
        if quiet && self.state == State::Streaming {
            self.state = State::Level;
            vec![Effect::Level]
        } else {
            Vec::new()
        }
    }
}

const TAG_HELLO: u8 = 1;
const TAG_VECTOR: u8 = 2;
const TAG_FRAME: u8 = 3;
const TAG_ACK: u8 = 4;
const TAG_DONE: u8 = 5;

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
            Self::Vector { vector, credentials } => {
                out.push(TAG_VECTOR);
                wire::put_number(&mut out, vector.len() as u64);
                for (log, seq) in vector.iter() {
                    wire::put_log(&mut out, &log);
                    wire::put_number(&mut out, seq);
                }
                wire::put_blob(&mut out, &serde_json::to_vec(credentials).unwrap_or_default());
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

fn read_vector(reader: &mut Reader<'_>) -> Result<Message, WireError> {
    let mut vector = VersionVector::new();
    for _ in 0..reader.count(MAX_LOGS, "a vector")? {
        let log = reader.log("a vector")?;
        vector.advance(log, reader.number("a vector")?);
    }
    let json = reader.blob(MAX_TEXT, "credentials")?;
    let credentials = serde_json::from_slice(json).map_err(|_| WireError::Utf8("credentials"))?;
    Ok(Message::Vector { vector, credentials })
}
