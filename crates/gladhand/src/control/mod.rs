//! The control socket: while a daemon runs, it carries out every command, so that one process has the home open.
//!
//! The client sends its command line as it was typed, its working directory and the width of its terminal; the daemon parses
//! it again and runs the same code as the client would have run, with a [`crate::console::Console`] that writes into the
//! socket. So both ways give the same bytes and the same exit code. [`address`] says where the socket is, [`wire`] which
//! messages there are, [`client`] and [`server`] are the two ends, `outgoing` keeps a slow reader from holding up the
//! daemon.
//!
//! Deliberately absent: an interface for other programs. Both ends are the same version of the same program, and refuse
//! each other otherwise; scripts use the command line.

pub mod address;
pub mod client;
mod outgoing;
mod remote;
pub mod server;
#[doc(hidden)]
pub mod wire;
