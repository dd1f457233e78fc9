//! How lines run: from a mark down along its own lane, across in the gap below its row, along the lane of the other mark on its
//! left, and into it from the left.
//!
//! Invariants: no line runs through letters, which stand right of the marks and above the gaps; two lines share a way only if
//! they start at one mark and mean the same.

use std::collections::BTreeMap;

/// A place in the grid of lanes and rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Spot {
    pub(super) lane: usize,
    pub(super) row: usize,
    /// A ring takes more room than a mark.
    pub(super) is_ringed: bool,
}

/// Two marks to be joined; the second one does not stand higher.
#[derive(Debug, Clone, Copy)]
pub(super) struct Join {
    pub(super) from: Spot,
    pub(super) to: Spot,
    /// Joins of the same number go across together.
    pub(super) bundle: usize,
}

/// Ways for all joins.
#[derive(Debug, Default)]
pub(super) struct Ways {
    /// For each join its way beside the lane of its second mark, counted from the lane.
    pub(super) beside: Vec<usize>,
    /// For each join its way across below the row of its first mark, counted from the row; not used within a lane.
    pub(super) across: Vec<usize>,
    /// How many ways run beside each lane.
    pub(super) beside_lane: BTreeMap<usize, usize>,
    /// How many ways run below each row.
    pub(super) below_row: BTreeMap<usize, usize>,
}

impl Ways {
    pub(super) fn of(joins: &[Join]) -> Self {
        let mut ways = Self {
            beside: vec![0; joins.len()],
            across: vec![0; joins.len()],
            ..Self::default()
        };
        ways.lay_beside(joins);
        ways.lay_across(joins);
        ways
    }

    fn lay_beside(&mut self, joins: &[Join]) {
        let mut by_lane: BTreeMap<usize, Vec<(usize, Stretch)>> = BTreeMap::new();
        for (i, join) in joins.iter().enumerate() {
            by_lane.entry(join.to.lane).or_default().push((i, join.down()));
        }
        for (lane, stretches) in by_lane {
            let (numbers, count) = apart(&stretches.iter().map(|(_, s)| *s).collect::<Vec<_>>());
            for ((i, _), number) in stretches.iter().zip(numbers) {
                put(&mut self.beside, *i, number);
            }
            self.beside_lane.insert(lane, count);
        }
    }

    fn lay_across(&mut self, joins: &[Join]) {
        let mut by_row: BTreeMap<usize, BTreeMap<usize, Stretch>> = BTreeMap::new();
        let crossing = || joins.iter().enumerate().filter(|(_, j)| j.from.lane != j.to.lane);
        for (_, join) in crossing() {
            let (from, to) = join.sideways();
            let bundle = by_row.entry(join.from.row).or_default().entry(join.bundle);
            let whole = bundle.or_insert((from, to));
            *whole = (whole.0.min(from), whole.1.max(to));
        }
        for (row, bundles) in by_row {
            let (numbers, count) = apart(&bundles.values().copied().collect::<Vec<_>>());
            let numbers: BTreeMap<usize, usize> = bundles.into_keys().zip(numbers).collect();
            for (i, join) in crossing().filter(|(_, j)| j.from.row == row) {
                put(&mut self.across, i, numbers.get(&join.bundle).copied().unwrap_or(0));
            }
            self.below_row.insert(row, count);
        }
    }
}

fn put(places: &mut [usize], at: usize, number: usize) {
    if let Some(place) = places.get_mut(at) {
        *place = number;
    }
}

/// From where to where, both included.
type Stretch = (usize, usize);

impl Join {
    /// Beside the lane: rows are even, the gaps below them odd.
    fn down(&self) -> Stretch {
        let start = 2 * self.from.row + usize::from(self.from.lane != self.to.lane);
        let end = 2 * self.to.row;
        (start.min(end), start.max(end))
    }

    /// Below the row: lanes are odd, the ways on their left even.
    fn sideways(&self) -> Stretch {
        let (start, end) = (2 * self.from.lane + 1, 2 * self.to.lane);
        (start.min(end), start.max(end))
    }
}

/// A number for each stretch, so that none shares its number with one that it touches, and how many numbers that takes.
fn apart(stretches: &[Stretch]) -> (Vec<usize>, usize) {
    let mut order: Vec<usize> = (0..stretches.len()).collect();
    order.sort_by_key(|i| stretches.get(*i));
    let mut numbers = vec![0; stretches.len()];
    let mut ends: Vec<usize> = Vec::new();
    for i in order {
        let Some((start, end)) = stretches.get(i).copied() else {
            continue;
        };
        let number = ends.iter().position(|taken| *taken < start).unwrap_or(ends.len());
        match ends.get_mut(number) {
            Some(taken) => *taken = end,
            None => ends.push(end),
        }
        put(&mut numbers, i, number);
    }
    (numbers, ends.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn join(from: (usize, usize), to: (usize, usize), bundle: usize) -> Join {
        let spot = |(lane, row)| Spot {
            lane,
            row,
            is_ringed: false,
        };
        Join {
            from: spot(from),
            to: spot(to),
            bundle,
        }
    }

    #[test]
    fn lines_beside_one_lane_keep_apart_and_ways_are_used_again() {
        let ways = Ways::of(&[
            join((0, 1), (1, 5), 0),
            join((2, 2), (1, 5), 1),
            join((0, 6), (1, 8), 2),
            join((1, 6), (1, 7), 3),
        ]);
        assert_eq!((ways.beside[0], ways.beside[1]), (0, 1));
        assert_ne!(ways.beside[2], ways.beside[3]);
        assert_eq!(ways.beside_lane, BTreeMap::from([(1, 2)]));
    }

    #[test]
    fn lines_below_one_row_keep_apart_unless_they_start_together() {
        let ways = Ways::of(&[
            join((0, 1), (1, 2), 0),
            join((0, 1), (2, 3), 0),
            join((2, 1), (0, 4), 1),
            join((3, 1), (4, 1), 2),
        ]);
        assert_eq!(ways.across[0], ways.across[1]);
        assert_ne!(ways.across[0], ways.across[2]);
        assert_eq!(ways.across[3], 0, "it lies beside the others");
        assert_eq!(ways.below_row, BTreeMap::from([(1, 2)]));
    }
}
