//! What happened in a world, in plain words, and a hash over it: the same seed must tell the same story twice.

/// The story of one seed.
#[derive(Debug, Default)]
pub struct Story {
    lines: Vec<String>,
    hash: blake3::Hasher,
}

impl Story {
    /// Tells what happened.
    pub fn tell(&mut self, line: String) {
        self.mark(line.as_bytes());
        self.lines.push(line);
    }

    /// Takes something into the hash that nobody would want to read.
    pub fn mark(&mut self, bytes: &[u8]) {
        self.hash.update(&(bytes.len() as u64).to_le_bytes()).update(bytes);
    }

    /// The story so far.
    pub fn text(&self) -> String {
        self.lines.join("\n")
    }

    /// The hash over everything told and marked.
    pub fn hash(&self) -> blake3::Hash {
        self.hash.finalize()
    }
}
