//! The exchange as a state machine: two nodes, a carrier that keeps order, no input or output of its own.
//!
//! Each side sends [`Message::Hello`] with a digest of its whole history. Equal digests: in sync after one round trip,
//! whatever the history. Otherwise each side sends its vector, and streams the frames that the other lacks. A frame is
//! acknowledged only when the receiver has made it durable; the receiver's vector is the only resume point.
//!
//! ```text
//! Greeting -- hello, equal digests --------------------------------> InSync
//! Greeting -- hello, other digests --> Comparing -- vector --> Streaming
//! Streaming -- everything sent is acknowledged, and the other said Done --> InSync
//! InSync -- new entries here, or a frame --> Streaming
//! ```
//!
//! The driver owns the book and the bytes: it passes messages to [`Session::handle`], carries out the returned [`Effect`]s,
//! and reports back with [`Session::durable`]. Deliberately absent: timeouts, retries, sockets. A session that is cut is
//! dropped and a new one started.
//!
//! A vector says what its sender holds **or will never accept** (a retired device's log beyond its end counts as held), so
//! that it is not offered again and again. With each log are the first bytes of its head's hash: two logs of one length with
//! different heads are a fork, and each side then sends its signed end as evidence.

mod error;
mod message;
mod resume;
mod session;

pub use error::SessionError;
pub use message::{HeadMark, Held, Message, PROTOCOL};
pub use session::{Effect, Session, SizeOf};
