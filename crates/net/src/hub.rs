//! What all connections of a node share.

use std::net::SocketAddr;
use std::sync::{Arc, Mutex, PoisonError};

use gladhand_facts::DeviceKey;
use gladhand_store::Pictures;
use tokio::sync::Semaphore;

use crate::addresses::Addresses;
use crate::connector::{Connector, Tcp};
use crate::counters::SharedCounters;
use crate::error::NetError;
use crate::fetch::Fetching;
use crate::live::Live;
use crate::tls::Identity;
use crate::trust::Trust;
use gladhand_node::NodeHandle;
use gladhand_node::environment;
use gladhand_node::peer::Trusted;

/// What all connections of a node share.
#[derive(Clone)]
pub struct Hub {
    /// The node.
    pub node: NodeHandle,
    /// This device.
    pub own: DeviceKey,
    /// This device towards TLS.
    pub identity: Identity,
    /// Who may connect.
    pub trust: Trust,
    /// The open sessions.
    pub live: Live,
    /// The counters.
    pub counters: SharedCounters,
    /// The place for one large message.
    pub large: Arc<Semaphore>,
    /// The pictures of the home.
    pub pictures: Pictures,
    /// Which pictures are being fetched.
    pub fetching: Fetching,
    /// This run of the program.
    pub instance: [u8; 8],
    /// How others are reached.
    pub road: Arc<dyn Connector>,
    /// Where this node listens, if it does.
    pub listening: Option<SocketAddr>,
    addresses: Arc<Mutex<Addresses>>,
    standing: Arc<Mutex<Trusted>>,
    /// One look at the roster at a time: an older result must not replace a newer one.
    looking: Arc<tokio::sync::Mutex<()>>,
}

impl Hub {
    /// A hub for `node`.
    ///
    /// # Errors
    /// When the node is gone, or there is no randomness.
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
        let (own, seed, home, standing, pictures) = ask.await?;
        let trust = Trust::default();
        trust.set(standing.keys.clone());
        Ok(Self {
            node,
            own,
            identity: Identity::from_seed(&seed)?,
            live: Live::new(own, trust.clone()),
            trust,
            counters,
            large: Arc::new(Semaphore::new(1)),
            fetching: Fetching::default(),
            pictures,
            instance: environment::random::<8>()?,
            road: Arc::new(Tcp),
            listening: None,
            addresses: Arc::new(Mutex::new(Addresses::load(&home))),
            standing: Arc::new(Mutex::new(standing)),
            looking: Arc::default(),
        })
    }

    /// Looks at the roster again, and ends the sessions of whoever is not on it any more.
    ///
    /// # Errors
    /// When the node is gone.
    pub async fn refresh_trust(&self) -> Result<(), NetError> {
        let _looking = self.looking.lock().await;
        let trusted = self.node.call(|node| node.trusted()).await?;
        self.trust.set(trusted.keys.clone());
        *self.standing.lock().unwrap_or_else(PoisonError::into_inner) = trusted;
        for gone in self.live.drop_untrusted() {
            let (device, name) = (gone.short(), self.name_of(&gone));
            tracing::warn!(
                device,
                name,
                "{name} is not on the roster any more: its session was ended"
            );
        }
        Ok(())
    }

    /// Keeps this copy of the roster up to date for as long as the node is there.
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
                // The node may have been opened anew: then it has another counter.
                if growth.changed().await.is_err() {
                    break;
                }
            }
        }
    }

    /// How this node stands with its depot.
    pub fn standing(&self) -> Trusted {
        self.standing.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// What a device is called on the roster, or the beginning of its key.
    pub fn name_of(&self, device: &DeviceKey) -> String {
        let standing = self.standing.lock().unwrap_or_else(PoisonError::into_inner);
        standing.names.get(device).cloned().unwrap_or_else(|| device.short())
    }

    /// Where peers were reached.
    pub fn addresses<T>(&self, look: impl FnOnce(&mut Addresses) -> T) -> T {
        look(&mut self.addresses.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// Where `peer` was reached.
    pub fn addresses_of(&self, peer: &DeviceKey) -> Vec<SocketAddr> {
        self.addresses(|book| book.of(peer))
    }
}
