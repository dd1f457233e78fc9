//! The connections that have not proved a key yet: how many there may be, and which has to go when there are too many.
//!
//! A peer sends its first byte as soon as it is connected. A connection that has sent none is worth the least: when an address
//! has as many as it may have, or all together are too many, the oldest silent one gives its place to the new one. So strangers
//! that connect and say nothing keep nobody out, wherever they come from.
//!
//! Deliberately absent: sockets and TLS ([`super::accept`]).
//!
//! Invariant: at most [`HANDSHAKES`] connections, and at most [`PER_ADDRESS`] of one address.

use std::collections::BTreeMap;
use std::io;
use std::net::{IpAddr, Ipv6Addr};
use std::pin::Pin;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::task::{Context, Poll};

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::sync::oneshot;

/// How many handshakes may run at a time.
pub const HANDSHAKES: usize = 512;
/// How many of them one address may have.
pub const PER_ADDRESS: usize = 16;

/// The running handshakes. Clones share one set.
#[derive(Debug, Clone, Default)]
pub struct Handshakes(Arc<Mutex<Inner>>);

#[derive(Debug, Default)]
struct Inner {
    next_id: u64,
    /// By age: a larger id is newer.
    running: BTreeMap<u64, Running>,
}

#[derive(Debug)]
struct Running {
    from: IpAddr,
    heard: Arc<AtomicBool>,
    /// Dropping it ends the handshake.
    _ends: oneshot::Sender<()>,
}

/// The right to run a handshake. Dropping it gives the right back.
#[derive(Debug)]
pub struct HandshakePermit {
    handshakes: Handshakes,
    id: u64,
    /// Whether the peer has sent a byte.
    pub heard: Arc<AtomicBool>,
    ended: oneshot::Receiver<()>,
}

/// One address for all that one machine can choose for itself: of an IPv6 address the network counts.
fn counted_as(from: IpAddr) -> IpAddr {
    match from {
        IpAddr::V6(v6) => Ipv6Addr::from_bits(v6.to_bits() & (u128::MAX << 64)).into(),
        v4 => v4,
    }
}

impl Handshakes {
    fn inner(&self) -> MutexGuard<'_, Inner> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The right to run a handshake with a peer at `from`. `None`: there are too many, and none of them is silent.
    pub fn begin(&self, from: IpAddr) -> Option<HandshakePermit> {
        let from = counted_as(from);
        let mut inner = self.inner();
        let of_address = inner.running.values().filter(|running| running.from == from).count();
        if of_address >= PER_ADDRESS {
            inner.end_oldest_silent(|running| running.from == from)?;
        } else if inner.running.len() >= HANDSHAKES {
            inner.end_oldest_silent(|_| true)?;
        }
        let (ends, ended) = oneshot::channel();
        let heard = Arc::new(AtomicBool::new(false));
        inner.next_id += 1;
        let id = inner.next_id;
        let running = Running {
            from,
            heard: Arc::clone(&heard),
            _ends: ends,
        };
        inner.running.insert(id, running);
        Some(HandshakePermit {
            handshakes: self.clone(),
            id,
            heard,
            ended,
        })
    }

    /// How many run.
    pub fn running(&self) -> usize {
        self.inner().running.len()
    }
}

impl Inner {
    fn end_oldest_silent(&mut self, among: impl Fn(&Running) -> bool) -> Option<()> {
        let silent = |running: &Running| !running.heard.load(Ordering::Relaxed) && among(running);
        let oldest = self.running.iter().find(|(_, running)| silent(running))?;
        let id = *oldest.0;
        self.running.remove(&id).map(drop)
    }
}

impl HandshakePermit {
    /// Waits until the place is needed for another connection.
    pub async fn taken_away(&mut self) {
        (&mut self.ended).await.ok();
    }
}

impl Drop for HandshakePermit {
    fn drop(&mut self) {
        self.handshakes.inner().running.remove(&self.id);
    }
}

/// A stream that notes when its peer has sent a byte.
#[derive(Debug)]
pub struct Noted<S> {
    stream: S,
    heard: Arc<AtomicBool>,
}

impl<S> Noted<S> {
    /// Notes it in `heard`.
    pub fn new(stream: S, heard: Arc<AtomicBool>) -> Self {
        Self { stream, heard }
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Noted<S> {
    fn poll_read(mut self: Pin<&mut Self>, cx: &mut Context<'_>, buffer: &mut ReadBuf<'_>) -> Poll<io::Result<()>> {
        let before = buffer.filled().len();
        let polled = Pin::new(&mut self.stream).poll_read(cx, buffer);
        if buffer.filled().len() > before {
            self.heard.store(true, Ordering::Relaxed);
        }
        polled
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Noted<S> {
    fn poll_write(mut self: Pin<&mut Self>, cx: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.stream).poll_write(cx, bytes)
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(n: u8) -> IpAddr {
        [127, 0, 0, n].into()
    }

    #[tokio::test]
    async fn silent_connections_give_way_and_others_do_not() {
        let handshakes = Handshakes::default();
        let mut first = handshakes.begin(at(1)).unwrap();
        let honest = handshakes.begin(at(1)).unwrap();
        honest.heard.store(true, Ordering::Relaxed);
        let silent: Vec<_> = (2..PER_ADDRESS).map(|_| handshakes.begin(at(1)).unwrap()).collect();
        let new = handshakes.begin(at(1)).unwrap();
        first.taken_away().await;
        assert_eq!(handshakes.running(), PER_ADDRESS);
        for permit in silent.iter().chain([&new]) {
            permit.heard.store(true, Ordering::Relaxed);
        }
        assert!(handshakes.begin(at(1)).is_none(), "all of this address are at work");
        assert!(handshakes.begin(at(2)).is_some(), "another address is not concerned");
        drop((first, silent, new));
        assert_eq!(handshakes.running(), 1);
    }

    #[tokio::test]
    async fn all_addresses_together_are_bounded() {
        let handshakes = Handshakes::default();
        let mut permits: Vec<_> = (0..HANDSHAKES)
            .map(|n| handshakes.begin(at((n / PER_ADDRESS) as u8)).unwrap())
            .collect();
        let one_more = handshakes.begin(at(200)).unwrap();
        permits[0].taken_away().await;
        assert_eq!(handshakes.running(), HANDSHAKES);
        drop((permits, one_more));
        assert_eq!(handshakes.running(), 0);
    }

    #[test]
    fn a_machine_with_many_ipv6_addresses_counts_once() {
        let one: IpAddr = "2001:db8:1:2::1".parse().unwrap();
        let other: IpAddr = "2001:db8:1:2:ffff::9".parse().unwrap();
        let elsewhere: IpAddr = "2001:db8:1:3::1".parse().unwrap();
        assert!(counted_as(one) == counted_as(other) && counted_as(one) != counted_as(elsewhere));
    }
}
