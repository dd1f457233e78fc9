//! Orders in which facts may arrive, the same on every run.

use gladhand_reconcile::RecordedFact;

/// A small generator for shuffles that are the same on every run (xorshift64*).
pub struct Dice(pub u64);

impl Dice {
    pub fn roll(&mut self, below: usize) -> usize {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 33) as usize % below.max(1)
    }

    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            items.swap(i, self.roll(i + 1));
        }
    }
}

/// The facts in a random order in which they may really arrive: each log in its own order, and no entry before
/// what it had seen.
pub fn causal_order(facts: &[RecordedFact], dice: &mut Dice) -> Vec<RecordedFact> {
    let mut rest: Vec<RecordedFact> = facts.to_vec();
    let mut order = Vec::new();
    while !rest.is_empty() {
        let free: Vec<usize> = (0..rest.len())
            .filter(|i| !rest.iter().any(|other| other.happens_before(&rest[*i])))
            .collect();
        order.push(rest.swap_remove(free[dice.roll(free.len())]));
    }
    order
}
