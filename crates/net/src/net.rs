//! The network of one node: set up, run, ended.

use std::net::SocketAddr;

use tokio::net::TcpListener;
use tokio::sync::{mpsc, watch};

use crate::accept::Acceptor;
use crate::counters::SharedCounters;
use crate::dialler::Dialler;
use crate::discovery::Discovery;
use crate::error::NetError;
use crate::hub::Hub;

use gladhand_node::NodeHandle;
use gladhand_node::handle::Closed;

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

/// A network that is set up and not running yet: the address is taken, nobody is answered.
pub struct Net {
    hub: Hub,
    options: Options,
    listener: Option<TcpListener>,
    /// From the moment the address is taken, commands find it: an invite must name the port that the system has chosen.
    _findable: crate::sync::Findable,
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
            _findable: crate::sync::Findable::new(&hub).await?,
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
            started.inspect_err(|error| tracing::warn!(%error, "peers cannot be discovered on the local link: {error}"))
        });
        drop(news_in);
        let dialler = Dialler::new(self.hub.clone(), &self.options.peers, self.options.discover);
        if let Some(at) = self.local_addr() {
            tracing::info!(name = %self.options.name, %at, "listening for peers at {at}");
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
