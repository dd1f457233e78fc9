//! The network of a node: who may connect, finding each other, staying in touch, merging.
//!
//! From the bottom up. Without input or output: [`clock`] (four timestamps), [`pulse`] (heartbeat), [`redial`] (when to dial),
//! [`limits`] (who may knock). Then [`road`] (a stream to an address), [`trust`] and [`tls`] (keys, no certificates), [`packet`] and [`line`] (messages over a
//! stream, bounded), [`live`] (open sessions), [`session`] (the exchange, driven), [`fetch`] and `pictures` (pictures after
//! the facts), [`join`] (a newcomer's credential), [`accept`],
//! [`dial`], [`dialler`], [`discovery`]; [`sync`] merges once.
//!
//! Invariants:
//! - nothing that comes in is believed for who brought it: it goes through the gate of `logbook::book`;
//! - a key that is not on the roster gets nothing but a refusal, or a hearing of its credential;
//! - no packet goes to anything that is not configured or on the local link, and with discovery off none that is not configured.

pub mod accept;
pub mod addresses;
pub mod clock;
pub mod connection;
pub mod connector;
pub mod counters;
pub mod dial;
pub mod dialler;
pub mod discovery;
mod ending;
pub mod fetch;
pub mod hub;
pub mod join;
pub mod limits;
pub mod live;
pub mod packet;
mod pictures;
pub mod pulse;
pub mod redial;
pub mod session;
pub mod sync;
pub mod tls;
pub mod trust;

use std::net::SocketAddr;

use tokio::net::TcpListener;
use tokio::sync::{mpsc, watch};

use accept::Acceptor;
use counters::SharedCounters;
use dialler::Dialler;
use discovery::Discovery;
use hub::Hub;

use crate::serve::NodeHandle;
use crate::serve::handle::Closed;

/// How the network behaves; from the configuration.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Options {
    /// Where to listen, such as `0.0.0.0:7401`; empty: nowhere.
    pub listen: String,
    /// Peers to dial, as `host:port`.
    pub peers: Vec<String>,
    /// Whether to publish this node on the local link and to look for others there.
    pub discover: bool,
    /// What this device is called, for the log.
    pub name: String,
}

/// Why there is no network.
#[derive(Debug, thiserror::Error)]
pub enum NetError {
    /// The address to listen at cannot be had.
    #[error("cannot listen at {listen}: {source}")]
    Listen {
        /// The address.
        listen: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// TLS cannot be set up.
    #[error("TLS: {0}")]
    Tls(#[from] rustls::Error),
    /// The system has no randomness to give.
    #[error("{0}")]
    Randomness(String),
    /// The node is gone.
    #[error(transparent)]
    Closed(#[from] Closed),
}

/// A network that is set up and not running yet: the address is taken, nobody is answered.
pub struct Net {
    hub: Hub,
    options: Options,
    listener: Option<TcpListener>,
    /// From the moment the address is taken, commands find it: an invite must name the port that the system has chosen.
    _findable: sync::Findable,
}

impl Net {
    /// Sets up the network of `node`.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn bind(node: NodeHandle, options: Options) -> Result<Self, NetError> {
        let listener = match options.listen.trim() {
            "" => None,
            listen => {
                let bound = TcpListener::bind(listen).await;
                Some(bound.map_err(|source| NetError::Listen {
                    listen: listen.to_owned(),
                    source,
                })?)
            }
        };
        let mut hub = Hub::new(node, SharedCounters::default()).await?;
        hub.listening = listener.as_ref().and_then(|l| l.local_addr().ok());
        Ok(Self {
            _findable: sync::Findable::new(&hub).await?,
            hub,
            options,
            listener,
        })
    }

    /// Where it listens.
    pub fn local_addr(&self) -> Option<SocketAddr> {
        self.hub.listening
    }

    /// What its connections share; for counters, and for merging once.
    pub fn hub(&self) -> Hub {
        self.hub.clone()
    }

    /// Runs until `shutdown` says so. Sessions say goodbye before it returns.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn run(self, mut shutdown: watch::Receiver<bool>) -> Result<(), NetError> {
        let (news_in, news) = mpsc::channel(64);
        let port = self.local_addr().filter(|a| !a.ip().is_loopback()).map(|a| a.port());
        let _discovery = self.options.discover.then(|| {
            let started = Discovery::start(&self.hub.own, port, news_in.clone());
            started
                .inspect_err(|error| tracing::warn!(%error, "peers cannot be discovered; configured ones are dialled"))
        });
        drop(news_in);
        let dialler = Dialler::new(self.hub.clone(), &self.options.peers, self.options.discover);
        if let Some(at) = self.local_addr() {
            tracing::info!(name = %self.options.name, %at, "listening for peers");
        }
        let roster = self.hub.clone().follow_roster();
        let accepting = async {
            let Some(listener) = self.listener else {
                return std::future::pending().await;
            };
            Acceptor::new(self.hub.clone())?.keep(listener).await;
            Ok::<_, NetError>(())
        };
        let farewell = async {
            shutdown.wait_for(|stop| *stop).await.ok();
            self.hub.live.end_all();
            // Sessions leave as soon as they have said goodbye; those that cannot are cut off.
            let mut changes = self.hub.live.changes();
            let empty = async { while !self.hub.live.is_empty() && changes.changed().await.is_ok() {} };
            tokio::time::timeout(std::time::Duration::from_secs(3), empty)
                .await
                .ok();
        };
        tokio::select! {
            biased;
            () = farewell => Ok(()),
            () = roster => Err(Closed.into()),
            () = dialler.run(news) => Ok(()),
            ended = accepting => ended,
        }
    }
}

/// Sets up the network of `node` and runs it until `shutdown` says so.
///
/// # Errors
/// [`NetError`]: the address cannot be had, or the node is gone.
pub async fn run(node: NodeHandle, options: Options, shutdown: watch::Receiver<bool>) -> Result<(), NetError> {
    Net::bind(node, options).await?.run(shutdown).await
}
