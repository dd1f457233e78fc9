//! [`NetError`]: the errors of setting up and running the network.

use gladhand_node::environment::NoRandomness;
use gladhand_node::handle::Closed;

/// The network cannot be set up, or has ended.
#[derive(Debug, thiserror::Error)]
pub enum NetError {
    /// The listen address cannot be bound.
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
    #[error(transparent)]
    NoRandomness(#[from] NoRandomness),
    /// The node is shutting down.
    #[error(transparent)]
    Closed(#[from] Closed),
}
