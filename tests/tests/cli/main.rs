//! What the real binary shows to people and scripts at its edges: wrong usage, exit codes, the width of a terminal, the log.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod at_the_trailer;
mod exit_codes;
mod first_line;
mod gates;
mod lists;
mod log_lines;
mod pictures;
mod recording;
mod terminal;
mod wrong_usage;
