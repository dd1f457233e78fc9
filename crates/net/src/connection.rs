//! One connection's two directions: bytes in and out, bounded in size, time and memory.
//!
//! Reader, writer and heartbeat run at the same time: a driver that writes first and reads then deadlocks with its like as soon
//! as both have much to say. Generic over the stream: TLS over TCP, or a pipe in a test.
//!
//! Bounds:
//! - a message is at most [`MAX_PACKET_BYTES`]; memory grows with what really arrives, not with what is announced;
//! - what waits to be dealt with is at most [`BUDGET_BYTES`] a connection; a larger message waits for a place that all
//!   connections share, so there is one such in memory at a time;
//! - a message that has begun must end in time ([`message_deadline`]), a write must get on within [`WRITE_STALL`].

use std::collections::VecDeque;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use gladhand_logbook::exchange::SessionError;
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt};
use tokio::sync::{Notify, OwnedSemaphorePermit, Semaphore, mpsc};
use tokio::time::Instant;

use crate::packet::{MAX_PACKET_BYTES, Packet};
use crate::pulse::{Beat, Pulse};
use gladhand_node::environment;

/// How many bytes of messages may wait on one connection.
pub const BUDGET_BYTES: u32 = (1 << 20) + (128 << 10);
/// How long a write may stand still.
pub const WRITE_STALL: Duration = Duration::from_secs(60);
const CHUNK: usize = 64 << 10;

/// Why a connection ended.
#[derive(Debug, thiserror::Error)]
pub enum ConnectionError {
    /// The other side closed it.
    #[error("the peer closed the connection")]
    Closed,
    /// The system, or TLS.
    #[error("{0}")]
    Io(std::io::Error),
    /// A message that is too long.
    #[error("the peer announced a message of {0} bytes; at most {MAX_PACKET_BYTES} are taken")]
    TooLong(u32),
    /// A message began and did not end.
    #[error("the peer stopped in the middle of a message")]
    Stuck,
    /// No sign of life.
    #[error("nothing was heard from the peer")]
    Silent,
    /// The peer takes nothing any more.
    #[error("the peer takes nothing any more")]
    Clogged,
    /// Much was asked for, or sent without being asked for.
    #[error("the peer does not keep to what was asked for")]
    Unruly,
    /// A message that does not read.
    #[error(transparent)]
    Wire(#[from] SessionError),
}

/// How long a message of this length may take once it has begun: 4 KiB a second must get through, 64 KiB a second for one that
/// keeps the shared place.
pub fn message_deadline(length: u32) -> Duration {
    let pace = if length > BUDGET_BYTES { 64 << 10 } else { 4 << 10 };
    Duration::from_secs(10 + u64::from(length / pace))
}

/// What a connection's parts share.
#[derive(Debug)]
pub struct PeerConnection {
    started: Instant,
    pulse: Mutex<Pulse>,
    poke: Notify,
    /// The reader waits for us, so silence is not the peer's.
    blocked: AtomicBool,
    asked: Mutex<VecDeque<(i64, Instant)>>,
    /// Bytes that came in.
    pub bytes_in: AtomicU64,
    /// Bytes that went out.
    pub bytes_out: AtomicU64,
}

/// Something that came in.
#[derive(Debug)]
pub struct Inbound {
    /// What.
    pub packet: Packet,
    /// Our clock at that time.
    pub received_us: i64,
    /// What a steady clock says passed since the question, if this answers one of ours.
    pub steady_us: Option<i64>,
    /// Its place in memory; drop it when the packet has been dealt with.
    pub place: Vec<OwnedSemaphorePermit>,
}

/// Something to send.
#[derive(Debug)]
pub enum Outbound {
    /// This.
    Packet(Packet),
    /// Much, which keeps a place until it has left.
    Bulk(Packet, OwnedSemaphorePermit),
    /// A probe, with the time at which it leaves.
    Probe,
    /// The answer to a probe, with the time at which it leaves.
    Clock {
        /// What stood in the probe.
        probe_us: i64,
        /// When it came in.
        received_us: i64,
    },
}

impl PeerConnection {
    /// A connection that begins now.
    pub fn new() -> Self {
        Self {
            started: Instant::now(),
            pulse: Mutex::new(Pulse::new(0)),
            poke: Notify::new(),
            blocked: AtomicBool::new(false),
            asked: Mutex::default(),
            bytes_in: AtomicU64::new(0),
            bytes_out: AtomicU64::new(0),
        }
    }

    fn now_ms(&self) -> u64 {
        u64::try_from(self.started.elapsed().as_millis()).unwrap_or(u64::MAX)
    }

    fn pulse<T>(&self, touch: impl FnOnce(&mut Pulse, u64) -> T) -> T {
        let now_ms = self.now_ms();
        touch(&mut self.pulse.lock().unwrap_or_else(PoisonError::into_inner), now_ms)
    }

    /// Something is under way on this connection.
    pub fn busy(&self) {
        self.pulse(Pulse::busy);
        self.poke.notify_one();
    }

    /// Somebody doubts that the peer is still there.
    pub fn doubt(&self) {
        self.pulse(Pulse::doubt);
        self.poke.notify_one();
    }

    /// Asks for signs of life until there are none any more.
    pub async fn watch(&self, out: &mpsc::UnboundedSender<Outbound>) -> ConnectionError {
        loop {
            match self.pulse(Pulse::look) {
                Beat::WaitUntil(at_ms) => {
                    let at = self.started + Duration::from_millis(at_ms);
                    tokio::select! {
                        biased;
                        () = self.poke.notified() => {}
                        () = tokio::time::sleep_until(at) => {}
                    }
                }
                Beat::Ask => {
                    out.send(Outbound::Probe).ok();
                }
                Beat::Dead if self.blocked.load(Ordering::Relaxed) => self.pulse(Pulse::heard),
                Beat::Dead => return ConnectionError::Silent,
            }
        }
    }

    fn remember(&self, probe_us: i64) {
        let mut asked = self.asked.lock().unwrap_or_else(PoisonError::into_inner);
        asked.push_back((probe_us, Instant::now()));
        while asked.len() > 8 {
            asked.pop_front();
        }
    }

    /// How long ago we asked that question, by the steady clock.
    fn since(&self, probe_us: i64) -> Option<i64> {
        let asked = self.asked.lock().unwrap_or_else(PoisonError::into_inner);
        let (_, at) = asked.iter().find(|(us, _)| *us == probe_us)?;
        i64::try_from(at.elapsed().as_micros()).ok()
    }
}

impl Default for PeerConnection {
    fn default() -> Self {
        Self::new()
    }
}

/// Reads messages until the connection ends; answers probes itself, so that they are answered while the node is busy.
pub async fn read_all<R: AsyncRead + Unpin>(
    mut from: R,
    connection: &PeerConnection,
    large: &Arc<Semaphore>,
    inbound: mpsc::Sender<Inbound>,
    out: &mpsc::UnboundedSender<Outbound>,
) -> ConnectionError {
    let budget = Arc::new(Semaphore::new(BUDGET_BYTES as usize));
    loop {
        let read = read_one(&mut from, connection, &budget, large).await;
        let (packet, place) = match read {
            Ok(read) => read,
            Err(e) => return e,
        };
        let received_us = environment::now_us();
        if let Some(probe_us) = packet.asks() {
            out.send(Outbound::Clock { probe_us, received_us }).ok();
        }
        if matches!(packet, Packet::Probe { .. }) {
            continue;
        }
        let steady_us = match &packet {
            Packet::Clock { probe_us, .. } => connection.since(*probe_us),
            _ => None,
        };
        let item = Inbound {
            packet,
            received_us,
            steady_us,
            place,
        };
        connection.blocked.store(true, Ordering::Relaxed);
        let taken = inbound.send(item).await;
        connection.blocked.store(false, Ordering::Relaxed);
        if taken.is_err() {
            return ConnectionError::Closed;
        }
    }
}

async fn read_one<R: AsyncRead + Unpin>(
    from: &mut R,
    connection: &PeerConnection,
    budget: &Arc<Semaphore>,
    large: &Arc<Semaphore>,
) -> Result<(Packet, Vec<OwnedSemaphorePermit>), ConnectionError> {
    let mut head = Vec::new();
    // Between messages a connection may be quiet: the heartbeat decides for how long.
    fill(from, &mut head, 1, connection).await?;
    let rest = fill(from, &mut head, 4, connection);
    let timed = tokio::time::timeout(message_deadline(0), rest).await;
    timed.map_err(|_| ConnectionError::Stuck)??;
    let length = head.first_chunk::<4>().map_or(0, |bytes| u32::from_le_bytes(*bytes));
    if length > MAX_PACKET_BYTES {
        return Err(ConnectionError::TooLong(length));
    }
    connection.blocked.store(true, Ordering::Relaxed);
    let place = make_room(length, budget, large).await?;
    connection.blocked.store(false, Ordering::Relaxed);
    let mut body = Vec::new();
    let whole = fill(from, &mut body, length as usize, connection);
    let timed = tokio::time::timeout(message_deadline(length), whole).await;
    timed.map_err(|_| ConnectionError::Stuck)??;
    Ok((Packet::decode(&body)?, place))
}

async fn make_room(
    length: u32,
    budget: &Arc<Semaphore>,
    large: &Arc<Semaphore>,
) -> Result<Vec<OwnedSemaphorePermit>, ConnectionError> {
    let gone = |_| ConnectionError::Closed;
    let own = Arc::clone(budget)
        .acquire_many_owned(length.clamp(1, BUDGET_BYTES))
        .await;
    let mut place = vec![own.map_err(gone)?];
    if length > BUDGET_BYTES {
        place.push(Arc::clone(large).acquire_owned().await.map_err(gone)?);
    }
    Ok(place)
}

/// Reads until `buffer` holds `length` bytes. Every byte is a sign of life.
async fn fill<R: AsyncRead + Unpin>(
    from: &mut R,
    buffer: &mut Vec<u8>,
    length: usize,
    connection: &PeerConnection,
) -> Result<(), ConnectionError> {
    while buffer.len() < length {
        let held = buffer.len();
        buffer.resize(length.min(held + CHUNK), 0);
        let read = from.read(buffer.get_mut(held..).unwrap_or_default()).await;
        let count = read.map_err(ConnectionError::Io)?;
        buffer.truncate(held + count);
        if count == 0 {
            return Err(if held == 0 {
                ConnectionError::Closed
            } else {
                ConnectionError::Stuck
            });
        }
        connection.bytes_in.fetch_add(count as u64, Ordering::Relaxed);
        connection.pulse(Pulse::heard);
    }
    Ok(())
}

/// Writes what is given until the senders are gone, then closes. Times are put in when a message leaves.
///
/// # Errors
/// When the connection does not take it.
pub async fn write_all<W: AsyncWrite + Unpin>(
    mut to: W,
    connection: &PeerConnection,
    out: &mut mpsc::UnboundedReceiver<Outbound>,
) -> Result<(), ConnectionError> {
    while let Some(first) = out.recv().await {
        let mut next = Some(first);
        while let Some(item) = next {
            put(&mut to, connection, item).await?;
            next = out.try_recv().ok();
        }
        stalls(to.flush()).await?;
    }
    stalls(to.shutdown()).await
}

async fn put<W: AsyncWrite + Unpin>(
    to: &mut W,
    connection: &PeerConnection,
    item: Outbound,
) -> Result<(), ConnectionError> {
    let now_us = environment::now_us();
    let _place;
    let packet = match item {
        Outbound::Packet(mut packet) => {
            if let Packet::Exchange(gladhand_logbook::exchange::Message::Hello { sent_us, .. }) = &mut packet {
                *sent_us = now_us;
            }
            packet
        }
        Outbound::Bulk(packet, place) => {
            _place = place;
            packet
        }
        Outbound::Probe => Packet::Probe { sent_us: now_us },
        Outbound::Clock { probe_us, received_us } => Packet::Clock {
            probe_us,
            received_us,
            sent_us: now_us,
        },
    };
    if let Some(probe_us) = packet.asks() {
        connection.remember(probe_us);
    }
    let bytes = packet.encode();
    for chunk in bytes.chunks(CHUNK) {
        stalls(to.write_all(chunk)).await?;
        connection.bytes_out.fetch_add(chunk.len() as u64, Ordering::Relaxed);
    }
    Ok(())
}

async fn stalls(write: impl Future<Output = std::io::Result<()>>) -> Result<(), ConnectionError> {
    let timed = tokio::time::timeout(WRITE_STALL, write).await;
    timed
        .map_err(|_| ConnectionError::Clogged)?
        .map_err(ConnectionError::Io)
}

#[cfg(test)]
#[path = "connection_tests.rs"]
mod tests;
