//! The state that all connections of a node share: the node, keys, trust, open sessions, counters, addresses.
//!
//! A hub is cheap to clone, and all clones share one state.
//!
//! Invariant: [`Hub::trust`] and [`Hub::trusted`] come from one state of the roster; [`Hub::follow_roster`] refreshes
//! them after commits.

use std::net::SocketAddr;
use std::sync::{Arc, Mutex, PoisonError};

use gladhand_facts::DeviceKey;
use gladhand_store::Pictures;
use tokio::sync::Semaphore;

use crate::addresses::Addresses;
use crate::connector::{Connector, Tcp};
use crate::counters::SharedCounters;
use crate::error::NetError;
use crate::fetch::PictureClaims;
use crate::open_sessions::OpenSessions;
use crate::tls::Identity;
use crate::trust::Trust;
use gladhand_node::NodeHandle;
use gladhand_node::environment;
use gladhand_node::peer::Trusted;

/// See the module doc.
#[derive(Clone)]
pub struct Hub {
    /// The node.
    pub node: NodeHandle,
    /// This device's key.
    pub own: DeviceKey,
    /// This device's key as TLS uses it.
    pub identity: Identity,
    /// The keys that may connect.
    pub trust: Trust,
    /// The open sessions.
    pub sessions: OpenSessions,
    /// The counters.
    pub counters: SharedCounters,
    /// The permit for the one large packet that may be in memory.
    pub large_packet: Arc<Semaphore>,
    /// The pictures of the home.
    pub pictures: Pictures,
    /// Which session fetches which picture.
    pub picture_claims: PictureClaims,
    /// A random number of this process, to recognise a connection to ourselves.
    pub instance: [u8; 8],
    /// Opens streams to peers.
    pub connector: Arc<dyn Connector>,
    /// The address that this node listens at, if any.
    pub listening: Option<SocketAddr>,
    addresses: Arc<Mutex<Addresses>>,
    trusted: Arc<Mutex<Trusted>>,
    /// Only one refresh runs at a time, so that an older roster cannot replace a newer one.
    refreshing: Arc<tokio::sync::Mutex<()>>,
}

impl Hub {
    /// A hub for `node`.
    ///
    /// # Errors
    /// When the node is shutting down, or the system has no randomness.
    pub async fn new(node: NodeHandle, counters: SharedCounters) -> Result<Self, NetError> {
        let ask = node.call(|n| {
            (
                n.device(),
                n.transport_seed(),
                n.home().layout().path().to_path_buf(),
                n.trusted(),
                n.pictures(),
            )
        });
        let (own, seed, home, trusted, pictures) = ask.await?;
        let trust = Trust::default();
        trust.set(trusted.keys.clone());
        Ok(Self {
            node,
            own,
            identity: Identity::from_seed(&seed)?,
            sessions: OpenSessions::new(own, trust.clone()),
            trust,
            counters,
            large_packet: Arc::new(Semaphore::new(1)),
            picture_claims: PictureClaims::default(),
            pictures,
            instance: environment::random::<8>()?,
            connector: Arc::new(Tcp),
            listening: None,
            addresses: Arc::new(Mutex::new(Addresses::load(&home))),
            trusted: Arc::new(Mutex::new(trusted)),
            refreshing: Arc::default(),
        })
    }

    /// Reads the roster again, and ends the sessions of devices that are no longer on it.
    ///
    /// # Errors
    /// When the node is shutting down.
    pub async fn refresh_trust(&self) -> Result<(), NetError> {
        let _refreshing = self.refreshing.lock().await;
        let trusted = self.node.call(|node| node.trusted()).await?;
        self.trust.set(trusted.keys.clone());
        let retired = trusted.retired.clone();
        *self.trusted.lock().unwrap_or_else(PoisonError::into_inner) = trusted;
        for gone in self.sessions.stop_untrusted(&retired) {
            let (device, name) = (gone.short(), self.name_of(&gone));
            tracing::warn!(
                device,
                name,
                "{name} is not on the roster any more: its session was ended"
            );
        }
        Ok(())
    }

    /// Refreshes the roster after every commit, until the node shuts down.
    pub async fn follow_roster(self) {
        loop {
            let Ok(mut growth) = self.node.call(|node| node.growth()).await else {
                return;
            };
            growth.mark_unchanged();
            loop {
                if self.refresh_trust().await.is_err() {
                    return;
                }
                // An error means that the node was dropped. If it was opened again after a panic it has a new channel.
                if growth.changed().await.is_err() {
                    break;
                }
            }
        }
    }

    /// The trusted devices, and the credential to present if this device is not enrolled.
    pub fn trusted(&self) -> Trusted {
        self.trusted.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// The name of a device on the roster, or else the beginning of its key.
    pub fn name_of(&self, device: &DeviceKey) -> String {
        let trusted = self.trusted.lock().unwrap_or_else(PoisonError::into_inner);
        trusted.names.get(device).cloned().unwrap_or_else(|| device.short())
    }

    /// Reads or changes the known addresses of peers.
    pub fn addresses<T>(&self, access: impl FnOnce(&mut Addresses) -> T) -> T {
        access(&mut self.addresses.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// The addresses at which `peer` was reached.
    pub fn addresses_of(&self, peer: &DeviceKey) -> Vec<SocketAddr> {
        self.addresses(|book| book.of(peer))
    }
}
