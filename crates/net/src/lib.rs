//! The network of a node: who may connect, finding each other, staying in touch, merging.
//!
//! From the bottom up. Without input or output: [`pulse`] (heartbeat), [`redial`] (when to dial),
//! [`limits`] (who may try to connect). Then [`connector`] (a stream to an address), [`trust`] and [`tls`] (keys, no
//! certificates), [`packet`] and [`connection`] (messages over a stream, bounded), [`live`] (open sessions), [`session`]
//! (the exchange, driven), `telling` (what the log says of it), [`fetch`] and `pictures` (pictures after the facts),
//! [`join`] (a newcomer's credential), [`accept`], [`dial`], [`dialler`], [`discovery`]; [`sync`] merges once.
//!
//! Invariants:
//! - nothing that comes in is believed for who brought it: it goes through the gate of `logbook::book`;
//! - a key that is not on the roster gets nothing but a refusal, or a hearing of its credential;
//! - no packet goes to anything that is not configured or on the local link, and with discovery off none that is not configured.

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
mod ending;
pub mod error;
pub mod fetch;
pub mod hub;
pub mod join;
pub mod limits;
pub mod live;
pub mod net;
pub mod packet;
mod pictures;
pub mod pulse;
pub mod redial;
pub mod session;
pub mod sync;
mod telling;
pub mod tls;
pub mod trust;

pub use error::NetError;
pub use net::{Net, Options, run};
