//! Progress of long operations, such as verifying or reading a bundle.

/// Gets the progress of a long operation.
pub trait Progress {
    /// `done` of `total` (0: unknown) steps of `what` are done.
    fn tick(&self, what: &str, done: u64, total: u64);
}

/// Ignores progress.
pub struct Silent;

impl Progress for Silent {
    fn tick(&self, _: &str, _: u64, _: u64) {}
}
