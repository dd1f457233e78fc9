//! Opening a byte stream to another machine: TCP in the daemon, a simulated network in tests.
//!
//! Deliberately nothing more than opening a stream. Which peers are dialled and when is decided in [`super::dialler`], what is
//! sent in [`super::session`], so a test with another connector runs the same code.

use std::future::Future;
use std::io;
use std::net::SocketAddr;
use std::pin::Pin;

use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpStream;

/// Bytes to and from one peer.
pub trait Stream: AsyncRead + AsyncWrite + Unpin + Send {}

impl<T: AsyncRead + AsyncWrite + Unpin + Send> Stream for T {}

/// A stream from any connector.
pub type AnyStream = Box<dyn Stream>;

/// A stream that is being opened.
pub type Opening = Pin<Box<dyn Future<Output = io::Result<AnyStream>> + Send>>;

/// Opens streams to other machines.
pub trait Connector: Send + Sync {
    /// Opens a stream to `address`.
    fn open(&self, address: SocketAddr) -> Opening;
}

/// The daemon's connector.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tcp;

impl Connector for Tcp {
    fn open(&self, address: SocketAddr) -> Opening {
        Box::pin(async move {
            let stream = TcpStream::connect(address).await?;
            stream.set_nodelay(true).ok();
            Ok(Box::new(stream) as AnyStream)
        })
    }
}
