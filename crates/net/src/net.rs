//! Starts, runs and stops the network of one node: listener, dialler, discovery, and the roster that they follow.
//!
//! Setting up ([`Net::bind`]) is apart from running ([`Net::run`]), so that the caller learns the bound address first.

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

/// Every network of this machine, at a port that the system chooses.
pub const ON_THE_LINK: &str = "[::]:0";
/// The same on a machine without IPv6.
const ON_THE_LINK_V4: &str = "0.0.0.0:0";

/// The network's part of the configuration.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Options {
    /// The address to listen at, such as `0.0.0.0:7401`; empty: do not listen; [`ON_THE_LINK`]: where the local link finds it.
    pub listen: String,
    /// Peers to dial, as `host:port`.
    pub peers: Vec<String>,
    /// Whether to publish this node on the local link and to look for others there.
    pub discover: bool,
    /// This device's name, for the log.
    pub name: String,
}

/// A network that is set up and not running: the address is bound, connections are not accepted yet.
pub struct Net {
    hub: Hub,
    options: Options,
    listener: Option<TcpListener>,
    /// Commands find the network as soon as the address is bound: an invite must name the port that the system chose.
    _registration: crate::sync::Registration,
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
                let bound = bind_listener(listen).await;
                Some(bound.map_err(|source| NetError::Listen {
                    listen: listen.to_owned(),
                    source,
                })?)
            }
        };
        let mut hub = Hub::new(node, SharedCounters::default()).await?;
        hub.listening = listener.as_ref().and_then(|l| l.local_addr().ok());
        Ok(Self {
            _registration: crate::sync::Registration::new(&hub).await?,
            hub,
            options,
            listener,
        })
    }

    /// The address that it listens at.
    pub fn local_addr(&self) -> Option<SocketAddr> {
        self.hub.listening
    }

    /// The state that its connections share.
    pub fn hub(&self) -> Hub {
        self.hub.clone()
    }

    /// Runs until `shutdown` is true. Sessions send a `bye` before it returns.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn run(self, mut shutdown: watch::Receiver<bool>) -> Result<(), NetError> {
        let (events_in, events) = mpsc::channel(64);
        let port = self.local_addr().filter(|a| !a.ip().is_loopback()).map(|a| a.port());
        let _discovery = self.options.discover.then(|| {
            let started = Discovery::start(&self.hub.own, port, events_in.clone());
            started.inspect_err(|error| tracing::warn!(%error, "peers cannot be discovered on the local link: {error}"))
        });
        drop(events_in);
        let dialler = Dialler::new(self.hub.clone(), &self.options.peers, self.options.discover);
        if let Some(at) = self.local_addr() {
            tracing::info!(name = %self.options.name, %at, "listening for peers at {at}");
        }
        let roster = self.hub.clone().follow_roster();
        let accepting = async {
            let Some(listener) = self.listener else {
                return std::future::pending().await;
            };
            Acceptor::new(self.hub.clone())?.run(listener).await;
            Ok::<_, NetError>(())
        };
        let stopping = async {
            shutdown.wait_for(|stop| *stop).await.ok();
            self.hub.sessions.stop_all();
            // A session closes once its `bye` is written. Those that cannot write it in time are cut off.
            let mut changes = self.hub.sessions.changes();
            let empty = async { while !self.hub.sessions.is_empty() && changes.changed().await.is_ok() {} };
            tokio::time::timeout(std::time::Duration::from_secs(3), empty)
                .await
                .ok();
        };
        tokio::select! {
            biased;
            () = stopping => Ok(()),
            () = roster => Err(Closed.into()),
            () = dialler.run(events) => Ok(()),
            ended = accepting => ended,
        }
    }
}

/// A listener at `[::]` also takes IPv4 connections.
async fn bind_listener(listen: &str) -> std::io::Result<TcpListener> {
    match TcpListener::bind(listen).await {
        Err(_) if listen == ON_THE_LINK => TcpListener::bind(ON_THE_LINK_V4).await,
        bound => bound,
    }
}

/// Sets up the network of `node` and runs it until `shutdown` is true.
///
/// # Errors
/// [`NetError`]: the address cannot be bound, or the node is shutting down.
pub async fn run(node: NodeHandle, options: Options, shutdown: watch::Receiver<bool>) -> Result<(), NetError> {
    Net::bind(node, options).await?.run(shutdown).await
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::net::{Ipv4Addr, Ipv6Addr};
    use tokio::net::TcpStream;

    #[tokio::test]
    async fn one_listener_takes_both_kinds_of_address() {
        let listener = bind_listener(ON_THE_LINK).await.unwrap();
        let port = listener.local_addr().unwrap().port();
        assert!(TcpStream::connect((Ipv4Addr::LOCALHOST, port)).await.is_ok());
        if listener.local_addr().unwrap().is_ipv6() {
            assert!(TcpStream::connect((Ipv6Addr::LOCALHOST, port)).await.is_ok());
        }
    }
}
