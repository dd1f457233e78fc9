//! How lines run: from a mark down along its own lane, across in the gap below its row, down beside the lane of the other mark, and
//! into it from the left. So no line runs through letters, and lines beside one lane keep apart.

use std::collections::BTreeMap;

/// Below a mark: where the lines of meetings and those of findings cross over to other lanes.
pub(super) const MEETING_BELOW: u32 = 19;
pub(super) const TIE_BELOW: u32 = 23;
/// How far the first way beside a lane lies to its left, and the next ones from each other.
const BESIDE: u32 = 17;
const APART: u32 = 5;
/// So many ways fit between the letters of one lane and the next lane.
const WAYS: usize = 5;

/// The end of a line.
#[derive(Clone, Copy)]
pub(super) struct End {
    pub(super) lane: usize,
    pub(super) x: u32,
    pub(super) y: u32,
    /// How much room the mark takes around it.
    pub(super) room: u32,
}

/// A line by its corners.
pub(super) type Route = Vec<(u32, u32)>;

/// The ways beside the lanes that are taken: per lane and way, from where to where.
#[derive(Default)]
pub(super) struct Ways(BTreeMap<usize, Vec<Vec<(u32, u32)>>>);

impl Ways {
    /// The corners of a line from a mark to a lower one.
    pub(super) fn route(&mut self, from: End, to: End, below: u32) -> Route {
        let into = (to.x.saturating_sub(to.room), to.y);
        if from.lane == to.lane {
            let x = self.beside(to, from.y);
            let out = (from.x.saturating_sub(from.room), from.y);
            return vec![out, (x, from.y), (x, to.y), into];
        }
        let across = from.y + below;
        let x = self.beside(to, across);
        vec![
            (from.x, from.y + from.room),
            (from.x, across),
            (x, across),
            (x, to.y),
            into,
        ]
    }

    /// A way beside the lane of `to` that is free from `top` down to it.
    fn beside(&mut self, to: End, top: u32) -> u32 {
        let ways = self.0.entry(to.lane).or_insert_with(|| vec![Vec::new(); WAYS]);
        let is_free = |way: &&mut Vec<(u32, u32)>| way.iter().all(|(from, upto)| to.y + 4 < *from || *upto + 4 < top);
        let mut free = ways.iter_mut().enumerate().filter(|(_, way)| is_free(way));
        let number = match free.next() {
            Some((number, way)) => {
                way.push((top, to.y));
                number
            }
            // Too many at once: the outermost is shared.
            None => WAYS - 1,
        };
        to.x.saturating_sub(BESIDE + APART * number as u32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn end(lane: usize, y: u32) -> End {
        let x = 100 + 200 * lane as u32;
        End { lane, x, y, room: 6 }
    }

    #[test]
    fn lines_beside_one_lane_keep_apart_and_ways_are_used_again() {
        let mut ways = Ways::default();
        let beside = |route: &Route| route[2].0;
        let first = ways.route(end(0, 100), end(1, 300), MEETING_BELOW);
        let second = ways.route(end(2, 140), end(1, 300), MEETING_BELOW);
        let later = ways.route(end(0, 400), end(1, 500), MEETING_BELOW);
        assert_ne!(beside(&first), beside(&second));
        assert_eq!(beside(&first), beside(&later));
        assert_eq!(first.last(), Some(&(294, 300)));
        let within = ways.route(end(0, 100), end(0, 200), TIE_BELOW);
        assert_eq!(within.first(), Some(&(94, 100)));
    }
}
