//! Which marks are joined by lines: those that had been seen, and those that contradict each other.

use std::collections::BTreeMap;

use gladhand_facts::Place;

use super::rows::Cell;
use super::scene::{Clash, Scene, Shape};
use crate::order::Placed;

/// A finding with its letter and the marks that make it, from top to bottom.
pub(super) struct Tied<'s> {
    pub(super) clash: &'s Clash,
    pub(super) letter: String,
    pub(super) marks: Vec<usize>,
}

/// The findings that facts of the picture make.
pub(super) fn ties<'s>(scene: &'s Scene, cells: &[Cell<'s>]) -> Vec<Tied<'s>> {
    let mut ties: Vec<Tied<'s>> = Vec::new();
    for clash in &scene.clashes {
        let makes = |c: &Cell<'_>| c.mark.shape != Shape::Diamond && clash.facts.contains(&c.mark.place);
        let mut marks: Vec<(usize, usize, usize)> = Vec::new();
        for (i, cell) in cells.iter().enumerate().filter(|(_, c)| makes(c)) {
            marks.push((cell.row, cell.lane, i));
        }
        marks.sort_unstable();
        if !marks.is_empty() {
            ties.push(Tied {
                clash,
                letter: letter(ties.len()),
                marks: marks.into_iter().map(|(.., i)| i).collect(),
            });
        }
    }
    ties
}

/// A to Z, then A1 and so on.
fn letter(n: usize) -> String {
    let letter = char::from(b'A' + (n % 26) as u8);
    match n / 26 {
        0 => letter.to_string(),
        round => format!("{letter}{round}"),
    }
}

/// For each mark the last marks of other lanes that its writer had newly seen and that brought facts, unless they came with
/// another one.
pub(super) fn meetings(cells: &[Cell<'_>]) -> Vec<(usize, usize)> {
    let mut found = Vec::new();
    let mut last_of: BTreeMap<usize, usize> = BTreeMap::new();
    for (i, cell) in cells.iter().enumerate() {
        let before = last_of.insert(cell.lane, i).and_then(|p| cells.get(p));
        let known = |place: &Place| before.is_some_and(|b| b.mark.has_seen(place) || b.mark.place == *place);
        let above = cells.get(..i).unwrap_or_default();
        let brings = |other: &Cell<'_>| {
            let mut facts = above.iter().filter(|f| f.number.is_some() && f.lane != cell.lane);
            facts.any(|f| {
                !known(&f.mark.place) && (f.mark.place == other.mark.place || other.mark.has_seen(&f.mark.place))
            })
        };
        let mut newest: BTreeMap<usize, usize> = BTreeMap::new();
        for (j, other) in above.iter().enumerate().filter(|(_, o)| o.lane != cell.lane) {
            let place = &other.mark.place;
            if cell.mark.has_seen(place) && !known(place) && brings(other) {
                newest.insert(other.lane, j);
            }
        }
        let came_with = |j: usize| {
            let place = cells.get(j).map(|s| s.mark.place);
            let mut others = newest.values().filter(|k| **k != j).filter_map(|k| cells.get(*k));
            place.is_some_and(|p| others.any(|s| s.mark.has_seen(&p)))
        };
        found.extend(newest.values().filter(|j| !came_with(**j)).map(|j| (*j, i)));
    }
    found
}
