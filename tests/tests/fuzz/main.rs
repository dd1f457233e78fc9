//! Whatever comes in, from a hand, a file, a stick or a wire: no panic, no hang, no memory without bound; what is refused is
//! refused with words; what is read means the same when it is written and read again; and the good rest is still taken.
//!
//! The runner and its environment variables: `gladhand_tests::fuzz`. Each target makes checksums, lengths and signatures (by
//! keys that it holds) right again, so that the change gets past the first check.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod judged;
mod logs;
mod small;
mod stick;
mod store;
mod text;
mod yard;
