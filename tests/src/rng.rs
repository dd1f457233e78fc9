//! Random numbers that can be repeated: a small generator with a seed that a failure prints.

/// xorshift64*.
#[derive(Debug, Clone)]
pub struct SeededRng(u64);

impl SeededRng {
    /// A generator with a seed, which is printed: a test shows it when it fails.
    pub fn new(seed: u64) -> Self {
        println!("rng: seed {seed:#x}");
        Self::quiet(seed)
    }

    /// The same without printing: the caller shows the seed.
    pub fn quiet(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1)
    }

    /// Any number.
    pub fn number(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 11
    }

    /// A number below `limit`.
    pub fn below(&mut self, limit: usize) -> usize {
        (self.number() % limit.max(1) as u64) as usize
    }

    /// Yes in so many of a hundred times.
    pub fn percent(&mut self, share: usize) -> bool {
        self.below(100) < share
    }

    /// One of them.
    pub fn pick<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[self.below(of.len())]
    }

    /// Puts them into any order.
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            items.swap(last, self.below(last + 1));
        }
    }
}
