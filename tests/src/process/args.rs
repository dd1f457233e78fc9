//! The words of a command line: one by one where a word may hold spaces, or a line without quotes in it.

/// What can be a command line.
pub trait Args {
    /// Its words.
    fn words(&self) -> Vec<&str>;
}

impl Args for str {
    fn words(&self) -> Vec<&str> {
        self.split_whitespace().collect()
    }
}

impl Args for String {
    fn words(&self) -> Vec<&str> {
        self.as_str().words()
    }
}

impl Args for [&str] {
    fn words(&self) -> Vec<&str> {
        self.to_vec()
    }
}

impl<const N: usize> Args for [&str; N] {
    fn words(&self) -> Vec<&str> {
        self.to_vec()
    }
}

impl Args for Vec<&str> {
    fn words(&self) -> Vec<&str> {
        self.clone()
    }
}
