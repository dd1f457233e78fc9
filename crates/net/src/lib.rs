//! The network of a node: finding peers, keeping sessions with them, merging.
//!
//! From the bottom up. Without input or output: [`heartbeat`] (when to probe a peer), [`redial`] (when to dial), [`limits`] (which
//! addresses may try a handshake), [`handshakes`]
//! (how many run at a time), [`turnstile`] (when who finds no place is to come again), [`outbox`] (what waits to be written). Then [`connector`] (a stream to an address), [`trust`] and [`tls`] (keys), [`packet`] and
//! [`connection`] (packets over a stream, bounded), [`open_sessions`], [`session`] and `driver` (drive the exchange), `session_log` (its log
//! lines), [`fetch`] and `pictures` (pictures follow facts), [`join`] (presenting a credential), [`accept`], [`dial`], [`dialler`],
//! [`discovery`]; [`sync`] merges once.
//!
//! Deliberately absent: what a merge admits (crates `logbook` and `node`), and words for people (crates `answers`, `gladhand`).
//!
//! Invariants:
//! - received data goes through the gate of `logbook::book`, no matter which peer sent it;
//! - a key that is not on the roster gets a refusal, or an answer to its credential, and nothing else;
//! - packets only go to configured addresses and to the local link; with discovery off only to configured addresses.

#![cfg_attr(
    test,
    allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)
)]

pub mod accept;
pub mod addresses;
pub mod connection;
pub mod connector;
pub mod counters;
pub mod dial;
pub mod dialler;
pub mod discovery;
mod driver;
mod ending;
pub mod error;
pub mod fetch;
pub mod handshakes;
pub mod heartbeat;
pub mod hub;
pub mod join;
pub mod limits;
pub mod net;
pub mod open_sessions;
pub mod outbox;
pub mod packet;
mod pictures;
pub mod redial;
pub mod session;
mod session_log;
pub mod sync;
pub mod tls;
pub mod trust;
pub mod turnstile;

pub use error::NetError;
pub use net::{Net, ON_THE_LINK, Options, run};
