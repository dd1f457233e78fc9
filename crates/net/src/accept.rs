//! Accepting connections: who gets a handshake, and what becomes of it.
//!
//! Every connection has a short time to prove a key. A key on the roster gets a session, one that only wants to join may show
//! its credential, anything else is counted and dropped.

use std::net::{IpAddr, SocketAddr};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpListener;
use tokio::sync::Semaphore;
use tokio::task::JoinSet;
use tokio::time::Instant;
use tokio_rustls::LazyConfigAcceptor;
use tokio_rustls::server::TlsStream;

use crate::hub::Hub;
use crate::join::{self, Answer};
use crate::limits::Knocks;
use crate::session::{self, Meeting};
use crate::tls::{self, JOIN, Listening};

/// How long a handshake may take.
pub const HANDSHAKE: Duration = Duration::from_secs(10);
/// How many handshakes may be under way.
pub const HANDSHAKES: usize = 256;

/// Accepts connections until it is dropped.
pub struct Acceptor {
    hub: Hub,
    listening: Listening,
    places: Arc<Semaphore>,
    knocks: Arc<Mutex<Knocks>>,
    started: Instant,
}

impl Acceptor {
    /// An acceptor for `hub`.
    ///
    /// # Errors
    /// When TLS cannot be set up.
    pub fn new(hub: Hub) -> Result<Arc<Self>, rustls::Error> {
        let listening = Listening::new(&hub.identity, &hub.trust)?;
        Ok(Arc::new(Self {
            hub,
            listening,
            places: Arc::new(Semaphore::new(HANDSHAKES)),
            knocks: Arc::default(),
            started: Instant::now(),
        }))
    }

    /// Accepts for ever.
    pub async fn keep(self: Arc<Self>, listener: TcpListener) {
        let mut guests = JoinSet::new();
        loop {
            match listener.accept().await {
                Ok((stream, from)) => {
                    self.hub.counters.accepted.up();
                    stream.set_nodelay(true).ok();
                    let acceptor = Arc::clone(&self);
                    guests.spawn(async move { acceptor.receive(stream, from).await });
                }
                Err(error) => {
                    // Out of file handles, most likely: let some close.
                    tracing::warn!(%error, "a connection could not be accepted: {error}");
                    tokio::time::sleep(Duration::from_millis(200)).await;
                }
            }
            while guests.try_join_next().is_some() {}
        }
    }

    fn knocks<T>(&self, look: impl FnOnce(&mut Knocks, u64) -> T) -> T {
        let now_ms = u64::try_from(self.started.elapsed().as_millis()).unwrap_or(u64::MAX);
        look(&mut self.knocks.lock().unwrap_or_else(PoisonError::into_inner), now_ms)
    }

    /// Takes one connection to its end.
    pub async fn receive<S: AsyncRead + AsyncWrite + Unpin>(&self, stream: S, from: SocketAddr) {
        let from = from.ip().to_canonical();
        let place = Arc::clone(&self.places).try_acquire_owned();
        let (true, Ok(place)) = (self.knocks(|k, now| k.may_try(from, now)), place) else {
            self.hub.counters.held_off.up();
            return;
        };
        let shaken = tokio::time::timeout(HANDSHAKE, self.shake_hands(stream)).await;
        drop(place);
        match shaken {
            Ok(Ok((stream, joins))) => self.welcome(stream, joins, from).await,
            Ok(Err(error)) if tls::is_refusal(&error) => self.turn_away(from),
            Ok(Err(_)) | Err(_) => {
                self.hub.counters.no_handshake.up();
                self.knocks(|k, now| k.refused(from, now));
            }
        }
    }

    /// Counts a stranger, and logs it ever more rarely: strangers must not fill the log.
    fn turn_away(&self, from: IpAddr) {
        let strangers = &self.hub.counters.strangers;
        strangers.up();
        let so_far = strangers.get();
        if so_far.is_power_of_two() {
            tracing::warn!(%from, so_far, "a device at {from} was refused: it is not on the roster ({so_far} so far)");
        }
        self.knocks(|k, now| k.refused(from, now));
    }

    async fn shake_hands<S: AsyncRead + AsyncWrite + Unpin>(&self, stream: S) -> std::io::Result<(TlsStream<S>, bool)> {
        let start = LazyConfigAcceptor::new(rustls::server::Acceptor::default(), stream).await?;
        let joins = start
            .client_hello()
            .alpn()
            .is_some_and(|mut wanted| wanted.any(|name| name == JOIN));
        let config = if joins {
            &self.listening.join
        } else {
            &self.listening.session
        };
        Ok((start.into_stream(Arc::clone(config)).await?, joins))
    }

    async fn welcome<S: AsyncRead + AsyncWrite + Unpin>(&self, stream: TlsStream<S>, joins: bool, from: IpAddr) {
        let (_, connection) = stream.get_ref();
        let named = connection.alpn_protocol().is_some();
        let pictures = connection.alpn_protocol() == Some(tls::SESSION);
        let Some(peer) = tls::peer_key(connection.peer_certificates()).filter(|_| named) else {
            self.hub.counters.no_handshake.up();
            return;
        };
        if joins {
            match join::answer(stream, &self.hub, peer).await {
                Ok(Answer::Admitted { .. }) => self.knocks(|k, _| k.let_in(from)),
                Ok(Answer::Refused { .. }) | Err(_) => self.knocks(|k, now| k.refused(from, now)),
            }
            return;
        }
        self.knocks(|k, _| k.let_in(from));
        let meeting = Meeting {
            peer,
            dialled: None,
            once: false,
            pictures,
        };
        let (_, end) = session::run(stream, &self.hub, meeting).await;
        if matches!(end, session::End::NotNow(crate::live::NotNow::Busy)) {
            self.hub.counters.busy.up();
        }
    }
}
