//! (being moved here)
