//! How bytes get to another machine. The daemon's road is TCP; a test may lay one of its own, on which time and partitions
//! are simulated.
//!
//! Deliberately nothing more than opening a stream: who is dialled, when, and what is said stays with [`super::dialler`] and
//! [`super::session`], so that a test over another road runs the same code.

use std::future::Future;
use std::io;
use std::net::SocketAddr;
use std::pin::Pin;

use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpStream;

/// Bytes to and from one peer.
pub trait Stream: AsyncRead + AsyncWrite + Unpin + Send {}

impl<T: AsyncRead + AsyncWrite + Unpin + Send> Stream for T {}

/// A stream over any road.
pub type AnyStream = Box<dyn Stream>;

/// A stream that is being opened.
pub type Opening = Pin<Box<dyn Future<Output = io::Result<AnyStream>> + Send>>;

/// A road to other machines.
pub trait Connector: Send + Sync {
    /// Opens a stream to `address`.
    fn open(&self, address: SocketAddr) -> Opening;
}

/// The road of the daemon.
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
