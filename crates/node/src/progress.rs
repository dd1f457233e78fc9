//! Where long work tells how far it is.

/// Where long work tells how far it is.
pub trait Progress {
    /// `done` of `total` (0: unknown) of `what`.
    fn tick(&self, what: &str, done: u64, total: u64);
}

/// Tells nobody.
pub struct Silent;

impl Progress for Silent {
    fn tick(&self, _: &str, _: u64, _: u64) {}
}
