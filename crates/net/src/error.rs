//! Why there is no network.

use gladhand_node::environment::NoRandomness;
use gladhand_node::handle::Closed;

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
    #[error(transparent)]
    NoRandomness(#[from] NoRandomness),
    /// The node is gone.
    #[error(transparent)]
    Closed(#[from] Closed),
}
