//! One session with one peer over one connection, from admission to the closing `bye`.
//!
//! Reader, writer and heartbeat run concurrently with the driver (see [`super::connection`]). The driver passes received messages
//! to the node, a few at a time so that they share an index update, and sends what the node returns. The session stays open and
//! passes new entries on as the node commits them, no matter where they came from.
//!
//! Deliberately not here: which entries to send or admit (`logbook::exchange` and the gate decide, inside the node).
//!
//! Invariants: the node is never held while waiting for the peer; packets that were read before the connection failed are still
//! processed; at most [`MESSAGES_AT_ONCE`] received messages wait.

use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use gladhand_facts::DeviceKey;
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite};
use tokio::sync::mpsc;

use crate::connection::{self, ConnectionError, Outbound, PeerConnection};
use crate::driver::Driver;
use crate::ending::farewell;
pub use crate::ending::{End, Tally};
use crate::hub::Hub;
use crate::open_sessions::{SessionSlot, StopReason};
use crate::packet::ByeReason;
use crate::session_log;
use crate::tls::Abilities;
use gladhand_node::environment;

/// How many messages the node processes in one step.
pub(crate) const MESSAGES_AT_ONCE: usize = 8;
/// How long writing the `bye` may take.
const BYE_TIMEOUT: Duration = Duration::from_secs(2);

/// What is known when a session begins.
#[derive(Debug, Clone, Copy)]
pub struct SessionSetup {
    /// The peer's key, as the TLS handshake proved it.
    pub peer: DeviceKey,
    /// The address that this side dialled; `None`: the peer dialled.
    pub dialled: Option<SocketAddr>,
    /// End as soon as both sides are in sync, instead of staying open.
    pub once: bool,
    /// What the peer understands; older versions understand less.
    pub abilities: Abilities,
}

/// Runs a session over `stream` to its end.
pub async fn run<S: AsyncRead + AsyncWrite + Unpin>(stream: S, hub: &Hub, setup: SessionSetup) -> (Tally, End) {
    let connection = Arc::new(PeerConnection::new());
    let admitted = hub.sessions.admit(setup.peer, setup.dialled.is_some(), &connection);
    let mut tally = Tally::default();
    // The slot is held until the end is logged: only then may the dialler see that the session is gone.
    let (end, _slot) = match admitted {
        Ok(slot) => {
            let end = run_admitted(stream, hub, setup, (&connection, &slot), &mut tally).await;
            finish(hub, &setup, &connection, &mut tally);
            if made_room(&end) {
                slot.set_resting();
            }
            if matches!(&end, End::Bye { why, .. } if *why == ByeReason::Retired) {
                // Without a node nobody asks any more.
                hub.node.call(|node| node.note_retired()).await.ok();
            }
            (end, Some(slot))
        }
        Err(reason) => {
            let end = reason.into();
            send_only_bye(stream, &connection, &end, setup.abilities).await;
            (end, None)
        }
    };
    session_log::ended(hub, &setup, &tally, &end);
    (tally, end)
}

/// Tells the peer why the connection is not admitted as a session, and closes it.
async fn send_only_bye<S: AsyncRead + AsyncWrite + Unpin>(
    stream: S,
    connection: &PeerConnection,
    end: &End,
    abilities: Abilities,
) {
    let (out, mut outbound) = mpsc::unbounded_channel();
    for packet in farewell(end, abilities) {
        out.send(Outbound::Packet(packet)).ok();
    }
    drop(out);
    let (mut from, to) = tokio::io::split(stream);
    let close = async {
        connection::write_all(to, connection, &mut outbound).await.ok();
        drain(&mut from).await;
    };
    tokio::time::timeout(BYE_TIMEOUT, close).await.ok();
}

/// Reads until the peer has closed too. A connection that is closed with bytes unread is reset, and the peer loses the `bye`.
async fn drain<R: AsyncRead + Unpin>(from: &mut R) {
    let mut discarded = [0; 4_096];
    while matches!(from.read(&mut discarded).await, Ok(1..)) {}
}

/// Runs reader, writer, heartbeat and driver until one of them ends.
async fn run_admitted<S: AsyncRead + AsyncWrite + Unpin>(
    stream: S,
    hub: &Hub,
    setup: SessionSetup,
    (connection, slot): (&PeerConnection, &SessionSlot),
    tally: &mut Tally,
) -> End {
    let (mut from, to) = tokio::io::split(stream);
    let (out, mut outbound) = mpsc::unbounded_channel();
    let (inbound_in, inbound) = mpsc::channel(MESSAGES_AT_ONCE);
    let mut stop = slot.stop.clone();
    let reader = connection::read_all(&mut from, connection, &hub.large_packet, inbound_in, &out);
    let mut writer = std::pin::pin!(connection::write_all(to, connection, &mut outbound));
    let mut driver = Driver::new(hub, setup, (connection, slot), &out, tally);
    let end = tokio::select! {
        biased;
        stopped = stop.wait_for(Option::is_some) => End::Stopped(stop_reason(stopped.ok().and_then(|reason| *reason))),
        end = driver.drive(inbound, reader) => end,
        silent = connection.watch(&out) => End::Connection(silent),
        written = &mut writer => End::Connection(written.err().unwrap_or(ConnectionError::Closed)),
    };
    let is_connected = !matches!(end, End::Connection(_));
    if is_connected {
        for packet in farewell(&end, setup.abilities) {
            out.send(Outbound::Packet(packet)).ok();
        }
    }
    // The writer ends when all senders are gone.
    drop(out);
    if is_connected {
        let close = async {
            writer.await.ok();
            drain(&mut from).await;
        };
        tokio::time::timeout(BYE_TIMEOUT, close).await.ok();
    }
    end
}

/// Whether the session was level and ended because one of the sides needed the place.
fn made_room(end: &End) -> bool {
    match end {
        End::Stopped(StopReason::MakeRoom) => true,
        End::Bye { why, .. } => *why == ByeReason::MakeRoom,
        _ => false,
    }
}

/// Without a reason the channel was closed, because the open sessions were dropped: the process is ending.
fn stop_reason(given: Option<StopReason>) -> StopReason {
    given.unwrap_or(StopReason::Shutdown)
}

/// Adds up what the session did, and keeps the address.
fn finish(hub: &Hub, setup: &SessionSetup, connection: &PeerConnection, tally: &mut Tally) {
    use std::sync::atomic::Ordering::Relaxed;
    (tally.bytes_in, tally.bytes_out) = (connection.bytes_in.load(Relaxed), connection.bytes_out.load(Relaxed));
    hub.counters.bytes_in.add(tally.bytes_in);
    hub.counters.bytes_out.add(tally.bytes_out);
    if tally.up {
        hub.addresses(|book| book.note_session(setup.peer, setup.dialled, environment::now_us()));
    }
}
