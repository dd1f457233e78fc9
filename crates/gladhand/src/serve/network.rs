//! The network as a part of the daemon. What it does is in [`gladhand_net`].
//!
//! A laptop in a yard may not have the address that its configuration names. It records all the same, and tries the address
//! again until it has it.

use std::net::SocketAddr;
use std::time::Duration;

use tokio::sync::watch;

use gladhand_net::{Net, NetError, Options};
use gladhand_node::NodeHandle;
use gladhand_node::config::{Config, Listening};

/// How long until an address that cannot be had is tried again.
const RETRY: Duration = Duration::from_secs(15);

/// The network that a configuration asks for.
pub struct Network {
    node: NodeHandle,
    options: Options,
    net: Option<Net>,
}

impl Network {
    /// Takes the address to listen at, if it can be had. `None`: the configuration wants no network.
    ///
    /// # Errors
    /// When trying again later would not help.
    pub async fn prepare(node: NodeHandle, config: &Config) -> Result<Option<Self>, NetError> {
        let options = Options {
            listen: match config.listening() {
                Listening::Nowhere => String::new(),
                Listening::At(address) => address,
                Listening::OnTheLink => gladhand_net::ON_THE_LINK.to_owned(),
            },
            peers: config.peers.clone(),
            discover: config.discover,
            name: config.name.clone(),
        };
        if options.listen.trim().is_empty() && options.peers.is_empty() && !options.discover {
            return Ok(None);
        }
        let net = match Net::bind(node.clone(), options.clone()).await {
            Ok(net) => Some(net),
            Err(error @ NetError::Listen { .. }) => {
                tracing::warn!(%error, "{error}; it is tried again every {} seconds", RETRY.as_secs());
                None
            }
            Err(error) => return Err(error),
        };
        if config.listening() == Listening::OnTheLink {
            tracing::info!(
                "other devices of the depot find this one on the local link; `listen = \"none\"` in config.toml keeps it quiet"
            );
        }
        Ok(Some(Self { node, options, net }))
    }

    /// Where it listens.
    pub fn local_addr(&self) -> Option<SocketAddr> {
        self.net.as_ref().and_then(Net::local_addr)
    }

    /// Runs until `stop` says so.
    pub async fn run(mut self, mut stop: watch::Receiver<bool>) {
        let net = loop {
            if let Some(net) = self.net.take() {
                break net;
            }
            tokio::select! {
                biased;
                _ = stop.wait_for(|stop| *stop) => return,
                () = tokio::time::sleep(RETRY) => {}
            }
            self.net = Net::bind(self.node.clone(), self.options.clone()).await.ok();
        };
        let ended = net.run(stop.clone()).await;
        if !*stop.borrow() {
            let why = ended.err().map_or(String::new(), |error| format!(": {error}"));
            tracing::error!("the network has ended{why}; everything else goes on without it");
        }
    }
}
