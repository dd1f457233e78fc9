//! Reader, writer and heartbeat of one connection: packets over a byte stream, bounded in size, time and memory.
//!
//! The three run concurrently. If each side wrote everything before it read, two sides with much to send would deadlock: both
//! would block in a write that the other does not read. Generic over the stream: TLS over TCP, or a pipe in a test.
//!
//! Deliberately not here: what the packets mean ([`super::session`]).
//!
//! Invariants:
//! - a packet is at most [`MAX_PACKET_BYTES`]; memory grows with the bytes received, not with the announced length;
//! - packets that wait to be processed take at most [`BUDGET_BYTES`] a connection; a larger packet also needs the one permit
//!   that all connections share, so at most one such packet is in memory;
//! - what a peer can make this side queue is bounded ([`crate::outbox`]);
//! - a packet that has begun must end within [`message_deadline`], and a write must make progress within [`WRITE_STALL`].

use std::collections::VecDeque;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use gladhand_logbook::exchange::SessionError;
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt};
use tokio::sync::{Notify, OwnedSemaphorePermit, Semaphore, mpsc};
use tokio::time::Instant;

use crate::heartbeat::{Heartbeat, HeartbeatAction};
use crate::outbox::Backlog;
pub use crate::outbox::Outbound;
use crate::packet::{MAX_PACKET_BYTES, Packet};
use gladhand_node::environment;

/// How many bytes of packets may wait to be processed on one connection.
pub const BUDGET_BYTES: u32 = (1 << 20) + (128 << 10);
/// How long a write may make no progress.
pub const WRITE_STALL: Duration = Duration::from_secs(60);
/// How much is read or written at a time. A whole chunk must be written within [`WRITE_STALL`].
const CHUNK: usize = 64 << 10;

/// Why a connection ended.
#[derive(Debug, thiserror::Error)]
pub enum ConnectionError {
    /// The other side closed it.
    #[error("the peer closed the connection")]
    Closed,
    /// The operating system or TLS reported an error.
    #[error("{0}")]
    Io(std::io::Error),
    /// The peer announced a packet that is too long.
    #[error("the peer announced a message of {0} bytes; at most {MAX_PACKET_BYTES} are taken")]
    TooLong(u32),
    /// A packet began and did not end in time.
    #[error("the peer stopped in the middle of a message")]
    ReadStalled,
    /// The peer sent nothing in time, although it was asked to.
    #[error("nothing was heard from the peer")]
    Silent,
    /// A write made no progress in time.
    #[error("the peer takes nothing any more")]
    WriteStalled,
    /// The peer asked for more than is allowed, or sent what was not asked for.
    #[error("the peer does not keep to what was asked for")]
    ProtocolViolation,
    /// A packet cannot be decoded.
    #[error(transparent)]
    Wire(#[from] SessionError),
}

/// How long a packet of this length may take once it has begun: at least 4 KiB a second must arrive, and 64 KiB a second for
/// one that holds the shared permit, because other connections wait for that permit.
pub fn message_deadline(length: u32) -> Duration {
    let pace = if length > BUDGET_BYTES { 64 << 10 } else { 4 << 10 };
    Duration::from_secs(10 + u64::from(length / pace))
}

/// What reader, writer and heartbeat of a connection share.
#[derive(Debug)]
pub struct PeerConnection {
    started: Instant,
    heartbeat: Mutex<Heartbeat>,
    /// Wakes [`PeerConnection::watch`] when the next heartbeat may be due earlier.
    recheck: Notify,
    /// The reader waits for this side to process packets, so it reads nothing and the peer only seems to be silent.
    reader_is_blocked: AtomicBool,
    /// The last probes that were sent, with the time on a monotonic clock.
    sent_probes: Mutex<VecDeque<(i64, Instant)>>,
    /// What waits to be written.
    pub backlog: Backlog,
    /// Bytes received.
    pub bytes_in: AtomicU64,
    /// Bytes sent.
    pub bytes_out: AtomicU64,
}

/// A received packet.
#[derive(Debug)]
pub struct Inbound {
    /// The packet.
    pub packet: Packet,
    /// Our wall clock when it was received.
    pub received_us: i64,
    /// If this answers a probe of ours: the time since then on a monotonic clock.
    pub steady_us: Option<i64>,
    /// Its share of the memory budget. Drop it when the packet has been processed.
    pub permits: Vec<OwnedSemaphorePermit>,
}

impl PeerConnection {
    /// The state of a connection that has just been opened.
    pub fn new() -> Self {
        Self {
            started: Instant::now(),
            heartbeat: Mutex::new(Heartbeat::new(0)),
            recheck: Notify::new(),
            reader_is_blocked: AtomicBool::new(false),
            sent_probes: Mutex::default(),
            backlog: Backlog::default(),
            bytes_in: AtomicU64::new(0),
            bytes_out: AtomicU64::new(0),
        }
    }

    fn now_ms(&self) -> u64 {
        u64::try_from(self.started.elapsed().as_millis()).unwrap_or(u64::MAX)
    }

    fn heartbeat<T>(&self, touch: impl FnOnce(&mut Heartbeat, u64) -> T) -> T {
        let now_ms = self.now_ms();
        touch(
            &mut self.heartbeat.lock().unwrap_or_else(PoisonError::into_inner),
            now_ms,
        )
    }

    /// Notes that work is in progress, so that silence is noticed within seconds.
    pub fn busy(&self) {
        self.heartbeat(Heartbeat::busy);
        self.recheck.notify_one();
    }

    /// Notes a reason to think that the peer is gone: it is probed at once.
    pub fn doubt(&self) {
        self.heartbeat(Heartbeat::doubt);
        self.recheck.notify_one();
    }

    /// Probes the peer when it is silent. Returns when the peer does not answer.
    pub async fn watch(&self, out: &mpsc::UnboundedSender<Outbound>) -> ConnectionError {
        loop {
            match self.heartbeat(Heartbeat::poll) {
                HeartbeatAction::WaitUntil(at_ms) => {
                    let at = self.started + Duration::from_millis(at_ms);
                    tokio::select! {
                        biased;
                        () = self.recheck.notified() => {}
                        () = tokio::time::sleep_until(at) => {}
                    }
                }
                HeartbeatAction::Probe => {
                    out.send(Outbound::Probe).ok();
                }
                HeartbeatAction::Dead if self.reader_is_blocked.load(Ordering::Relaxed) => {
                    self.heartbeat(Heartbeat::heard)
                }
                HeartbeatAction::Dead => return ConnectionError::Silent,
            }
        }
    }

    fn note_probe(&self, probe_us: i64) {
        let mut sent = self.sent_probes.lock().unwrap_or_else(PoisonError::into_inner);
        sent.push_back((probe_us, Instant::now()));
        // A peer may answer in any order, or never: the list is bounded.
        while sent.len() > 8 {
            sent.pop_front();
        }
    }

    /// How long ago this probe was sent, by a monotonic clock. `None`: it is not one of the last eight.
    fn since_probe(&self, probe_us: i64) -> Option<i64> {
        let sent = self.sent_probes.lock().unwrap_or_else(PoisonError::into_inner);
        let (_, at) = sent.iter().find(|(us, _)| *us == probe_us)?;
        i64::try_from(at.elapsed().as_micros()).ok()
    }
}

impl Default for PeerConnection {
    fn default() -> Self {
        Self::new()
    }
}

/// Reads packets until the connection ends. Answers probes itself, so that they are answered while the node is busy.
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
        let (packet, permits) = match read {
            Ok(read) => read,
            Err(e) => return e,
        };
        let received_us = environment::now_us();
        if let Some(probe_us) = packet.probe_time().filter(|_| connection.backlog.may_answer()) {
            out.send(Outbound::Clock { probe_us, received_us }).ok();
        }
        if matches!(packet, Packet::Probe { .. }) {
            continue;
        }
        let steady_us = match &packet {
            Packet::Clock { probe_us, .. } => connection.since_probe(*probe_us),
            _ => None,
        };
        let item = Inbound {
            packet,
            received_us,
            steady_us,
            permits,
        };
        connection.reader_is_blocked.store(true, Ordering::Relaxed);
        let taken = inbound.send(item).await;
        connection.reader_is_blocked.store(false, Ordering::Relaxed);
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
    // Between packets a connection may be silent. The heartbeat decides for how long, so this read has no timeout.
    fill(from, &mut head, 1, connection).await?;
    let rest = fill(from, &mut head, 4, connection);
    let timed = tokio::time::timeout(message_deadline(0), rest).await;
    timed.map_err(|_| ConnectionError::ReadStalled)??;
    let Some(length) = head.first_chunk::<4>().map(|bytes| u32::from_le_bytes(*bytes)) else {
        return Err(ConnectionError::ReadStalled);
    };
    if length > MAX_PACKET_BYTES {
        return Err(ConnectionError::TooLong(length));
    }
    connection.reader_is_blocked.store(true, Ordering::Relaxed);
    let permits = take_permits(length, budget, large).await?;
    connection.reader_is_blocked.store(false, Ordering::Relaxed);
    let mut body = Vec::new();
    let whole = fill(from, &mut body, length as usize, connection);
    let timed = tokio::time::timeout(message_deadline(length), whole).await;
    timed.map_err(|_| ConnectionError::ReadStalled)??;
    Ok((Packet::decode(&body)?, permits))
}

/// Waits until a packet of this length fits into memory.
async fn take_permits(
    length: u32,
    budget: &Arc<Semaphore>,
    large: &Arc<Semaphore>,
) -> Result<Vec<OwnedSemaphorePermit>, ConnectionError> {
    let gone = |_| ConnectionError::Closed;
    let own = Arc::clone(budget)
        .acquire_many_owned(length.clamp(1, BUDGET_BYTES))
        .await;
    let mut permits = vec![own.map_err(gone)?];
    if length > BUDGET_BYTES {
        permits.push(Arc::clone(large).acquire_owned().await.map_err(gone)?);
    }
    Ok(permits)
}

/// Reads until `buffer` holds `length` bytes. Every byte received counts as a sign of life.
async fn fill<R: AsyncRead + Unpin>(
    from: &mut R,
    buffer: &mut Vec<u8>,
    length: usize,
    connection: &PeerConnection,
) -> Result<(), ConnectionError> {
    while buffer.len() < length {
        let held = buffer.len();
        buffer.resize(length.min(held + CHUNK), 0);
        // `held` is within the buffer. An empty slice would read 0 bytes, which ends the connection.
        let read = from.read(buffer.get_mut(held..).unwrap_or_default()).await;
        let count = read.map_err(ConnectionError::Io)?;
        buffer.truncate(held + count);
        if count == 0 {
            return Err(if held == 0 {
                ConnectionError::Closed
            } else {
                ConnectionError::ReadStalled
            });
        }
        connection.bytes_in.fetch_add(count as u64, Ordering::Relaxed);
        connection.heartbeat(Heartbeat::heard);
    }
    Ok(())
}

/// Writes packets until all senders are dropped, then closes. Fills in each time of sending just before the write.
///
/// # Errors
/// When a write fails or makes no progress.
pub async fn write_all<W: AsyncWrite + Unpin>(
    mut to: W,
    connection: &PeerConnection,
    out: &mut mpsc::UnboundedReceiver<Outbound>,
) -> Result<(), ConnectionError> {
    while let Some(first) = out.recv().await {
        let mut next = Some(first);
        while let Some(item) = next {
            write_one(&mut to, connection, item).await?;
            next = out.try_recv().ok();
        }
        with_stall_limit(to.flush()).await?;
    }
    with_stall_limit(to.shutdown()).await
}

async fn write_one<W: AsyncWrite + Unpin>(
    to: &mut W,
    connection: &PeerConnection,
    item: Outbound,
) -> Result<(), ConnectionError> {
    let now_us = environment::now_us();
    connection.backlog.written(&item);
    // Keeps the permit until the packet is written.
    let _permit;
    let packet = match item {
        Outbound::Packet(mut packet) => {
            if let Packet::Exchange(gladhand_logbook::exchange::Message::Hello { sent_us, .. }) = &mut packet {
                *sent_us = now_us;
            }
            packet
        }
        Outbound::Bulk(packet, permit) => {
            _permit = permit;
            packet
        }
        Outbound::Probe => Packet::Probe { sent_us: now_us },
        Outbound::Clock { probe_us, received_us } => Packet::Clock {
            probe_us,
            received_us,
            sent_us: now_us,
        },
    };
    if let Some(probe_us) = packet.probe_time() {
        connection.note_probe(probe_us);
    }
    let bytes = packet.encode();
    for chunk in bytes.chunks(CHUNK) {
        with_stall_limit(to.write_all(chunk)).await?;
        connection.bytes_out.fetch_add(chunk.len() as u64, Ordering::Relaxed);
    }
    Ok(())
}

/// Fails when `write` makes no progress in time.
async fn with_stall_limit(write: impl Future<Output = std::io::Result<()>>) -> Result<(), ConnectionError> {
    let timed = tokio::time::timeout(WRITE_STALL, write).await;
    timed
        .map_err(|_| ConnectionError::WriteStalled)?
        .map_err(ConnectionError::Io)
}

#[cfg(test)]
#[path = "connection_tests.rs"]
mod tests;
