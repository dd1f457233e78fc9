//! Accepting connections: the TLS handshake, and what follows it.
//!
//! Every connection has [`HANDSHAKE`] to prove a key. A key on the roster gets a session; a key that asks to join may present
//! its credential; everything else is counted and dropped.
//!
//! Deliberately not here: which keys are trusted ([`super::trust`]), and how many sessions may be open
//! ([`super::open_sessions`]).
//!
//! Invariant: a connection without a roster key costs no more than one handshake, and of those the number is bounded
//! ([`super::handshakes`]).

use std::net::{IpAddr, SocketAddr};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpListener;
use tokio::task::JoinSet;
use tokio::time::Instant;
use tokio_rustls::LazyConfigAcceptor;
use tokio_rustls::server::TlsStream;

use crate::handshakes::{Handshakes, Noted};
use crate::hub::Hub;
use crate::join::{self, Answer};
use crate::limits::RefusalLimits;
use crate::session::{self, SessionSetup};
use crate::tls::{self, JOIN, ServerConfigs};

/// How long a handshake may take.
pub const HANDSHAKE: Duration = Duration::from_secs(10);
/// How long the first byte may take. A peer sends it at once; this is for a link that loses packets.
pub const FIRST_BYTE: Duration = Duration::from_secs(4);

/// Accepts connections until it is dropped.
pub struct Acceptor {
    hub: Hub,
    configs: ServerConfigs,
    handshakes: Handshakes,
    limits: Arc<Mutex<RefusalLimits>>,
    started: Instant,
}

impl Acceptor {
    /// An acceptor for `hub`.
    ///
    /// # Errors
    /// When TLS cannot be set up.
    pub fn new(hub: Hub) -> Result<Arc<Self>, rustls::Error> {
        let configs = ServerConfigs::new(&hub.identity, &hub.trust)?;
        Ok(Arc::new(Self {
            hub,
            configs,
            handshakes: Handshakes::default(),
            limits: Arc::default(),
            started: Instant::now(),
        }))
    }

    /// Accepts connections until the future is dropped.
    pub async fn run(self: Arc<Self>, listener: TcpListener) {
        let mut connections = JoinSet::new();
        loop {
            match listener.accept().await {
                Ok((stream, from)) => {
                    self.hub.counters.accepted.up();
                    stream.set_nodelay(true).ok();
                    let acceptor = Arc::clone(&self);
                    connections.spawn(async move { acceptor.handle(stream, from).await });
                }
                Err(error) => {
                    // Most likely out of file handles. Without a pause this loop would spin until some are closed.
                    tracing::warn!(%error, "a connection could not be accepted: {error}");
                    tokio::time::sleep(Duration::from_millis(200)).await;
                }
            }
            while connections.try_join_next().is_some() {}
        }
    }

    fn limits<T>(&self, access: impl FnOnce(&mut RefusalLimits, u64) -> T) -> T {
        let now_ms = u64::try_from(self.started.elapsed().as_millis()).unwrap_or(u64::MAX);
        access(&mut self.limits.lock().unwrap_or_else(PoisonError::into_inner), now_ms)
    }

    /// Handles one connection from handshake to close.
    pub async fn handle<S: AsyncRead + AsyncWrite + Unpin>(&self, stream: S, from: SocketAddr) {
        let from = from.ip().to_canonical();
        let may_try = self.limits(|l, now| l.may_try(from, now));
        let Some(mut permit) = may_try.then(|| self.handshakes.begin(from)).flatten() else {
            self.hub.counters.held_off.up();
            return;
        };
        let stream = Noted::new(stream, Arc::clone(&permit.heard));
        let outcome = tokio::select! {
            biased;
            done = tokio::time::timeout(HANDSHAKE, self.handshake(stream)) => done.ok(),
            () = silent(Arc::clone(&permit.heard)) => None,
            () = permit.taken_away() => {
                // No fault of an address that others may share.
                self.hub.counters.held_off.up();
                return;
            }
        };
        drop(permit);
        match outcome {
            Some(Ok((stream, joins))) => self.serve(stream, joins, from).await,
            Some(Err(error)) if tls::is_refusal(&error) => self.refuse_stranger(from),
            Some(Err(_)) | None => {
                self.hub.counters.no_handshake.up();
                self.limits(|l, now| l.refused(from, now));
            }
        }
    }

    /// Counts a refused key. Only the 1st, 2nd, 4th, 8th, … is logged, so that strangers cannot fill the log.
    fn refuse_stranger(&self, from: IpAddr) {
        let strangers = &self.hub.counters.strangers;
        strangers.up();
        let so_far = strangers.get();
        if so_far.is_power_of_two() {
            tracing::warn!(%from, so_far, "a device at {from} was refused: it is not on the roster ({so_far} so far)");
        }
        self.limits(|l, now| l.refused(from, now));
    }

    /// Returns the encrypted stream, and whether the peer asked to join.
    async fn handshake<S: AsyncRead + AsyncWrite + Unpin>(&self, stream: S) -> std::io::Result<(TlsStream<S>, bool)> {
        let start = LazyConfigAcceptor::new(rustls::server::Acceptor::default(), stream).await?;
        let joins = start
            .client_hello()
            .alpn()
            .is_some_and(|mut wanted| wanted.any(|name| name == JOIN));
        let config = if joins {
            &self.configs.join
        } else {
            &self.configs.session
        };
        Ok((start.into_stream(Arc::clone(config)).await?, joins))
    }

    async fn serve<S: AsyncRead + AsyncWrite + Unpin>(&self, stream: TlsStream<S>, joins: bool, from: IpAddr) {
        let (_, connection) = stream.get_ref();
        // A client that offers no ALPN name passes the handshake and speaks neither protocol.
        let named = connection.alpn_protocol().is_some();
        let abilities = tls::Abilities::of(connection.alpn_protocol());
        let Some(peer) = tls::peer_key(connection.peer_certificates()).filter(|_| named) else {
            self.hub.counters.no_handshake.up();
            return;
        };
        if joins {
            match join::serve(stream, &self.hub, peer).await {
                Ok(Answer::Admitted { .. }) => self.limits(|l, _| l.admitted(from)),
                Ok(Answer::Refused { .. }) | Err(_) => self.limits(|l, now| l.refused(from, now)),
            }
            return;
        }
        self.limits(|l, _| l.admitted(from));
        let setup = SessionSetup {
            peer,
            dialled: None,
            once: false,
            abilities,
        };
        let (_, end) = session::run(stream, &self.hub, setup).await;
        if matches!(
            end,
            session::End::NotAdmitted(crate::open_sessions::NotAdmitted::Busy { .. })
        ) {
            self.hub.counters.busy.up();
        }
    }
}

/// Waits until a connection that says nothing has had its time.
async fn silent(heard: Arc<AtomicBool>) {
    tokio::time::sleep(FIRST_BYTE).await;
    if heard.load(Ordering::Relaxed) {
        std::future::pending().await
    }
}
