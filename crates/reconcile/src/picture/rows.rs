//! Which mark stands in which row.
//!
//! Invariants: a mark stands strictly below all that its writer had seen; so marks side by side had not seen each other. The
//! marks of a lane keep their order, one to a row. There are no more rows than the longest chain of what was seen has links.
//! Within that, marks of about the same time stand side by side: clocks choose among the rows that the order leaves open.

use std::collections::{BTreeMap, BTreeSet};

use super::scene::{Lane, Mark, Scene};
use crate::order::{self, Placed};

/// A mark in the grid of lanes and rows.
pub(super) struct Cell<'s> {
    pub(super) mark: &'s Mark,
    /// The number of the fact in the history, from 1.
    pub(super) number: Option<usize>,
    pub(super) lane: usize,
    pub(super) row: usize,
}

/// The lanes that have a mark, and the marks in the order of the history.
pub(super) fn grid(scene: &Scene) -> (Vec<&Lane>, Vec<Cell<'_>>) {
    let has_mark = |lane: &&Lane| {
        let mut marks = scene.facts.iter().chain(&scene.sightings);
        marks.any(|mark| mark.place.log == lane.log)
    };
    let lanes: Vec<&Lane> = scene.lanes.iter().filter(has_mark).collect();
    let numbers: BTreeMap<_, usize> = lanes.iter().enumerate().map(|(i, l)| (l.log, i)).collect();
    let cell = |(number, mark): (Option<usize>, _)| {
        let lane = numbers.get(&Mark::place(mark).log).copied()?;
        let row = 0;
        Some(Cell {
            mark,
            number,
            lane,
            row,
        })
    };
    let mut cells: Vec<Cell<'_>> = in_order(scene).into_iter().filter_map(cell).collect();
    let rows = rows(&cells);
    cells.iter_mut().zip(rows).for_each(|(cell, row)| cell.row = row);
    (lanes, cells)
}

/// Facts keep their order and their numbers. A sighting comes right after the last fact that it had seen.
fn in_order(scene: &Scene) -> Vec<(Option<usize>, &Mark)> {
    let logs = order::by_log(&scene.sightings);
    let slot = |sighting: &Mark| {
        let seen = |fact: &Mark| sighting.has_seen(&fact.place);
        scene.facts.iter().rposition(seen).map_or(0, |last| last + 1)
    };
    let mut between: BTreeMap<usize, Vec<&Mark>> = BTreeMap::new();
    for sighting in order::in_order(&logs) {
        between.entry(slot(sighting)).or_default().push(sighting);
    }
    let mut rows = Vec::new();
    let mut take = |at: usize, rows: &mut Vec<(Option<usize>, _)>| {
        let here = between.remove(&at).unwrap_or_default();
        rows.extend(here.into_iter().map(|mark| (None, mark)));
    };
    for (i, fact) in scene.facts.iter().enumerate() {
        take(i, &mut rows);
        rows.push((Some(i + 1), fact));
    }
    take(scene.facts.len(), &mut rows);
    rows
}

/// A mark among those that must stand above or below it.
struct Link {
    about_us: i64,
    /// Those after it whose writers had seen it, or that stand after it in its lane.
    below: Vec<usize>,
    /// How many of those above it have no row yet.
    waits_for: usize,
    /// The first and the last row in which it may stand.
    first: usize,
    last: usize,
}

/// A row for each mark: as low as the marks that were earlier by the clock, unless that makes the picture longer.
fn rows(cells: &[Cell<'_>]) -> Vec<usize> {
    let mut links = links(cells);
    let mut rows = vec![0; cells.len()];
    let free = links.iter().enumerate().filter(|(_, link)| link.waits_for == 0);
    let mut free: BTreeSet<(i64, usize)> = free.map(|(i, link)| (link.about_us, i)).collect();
    let mut reached = 0;
    while let Some((_, i)) = free.pop_first() {
        let Some(link) = links.get_mut(i) else { continue };
        let row = reached.min(link.last).max(link.first);
        reached = reached.max(row);
        if let Some(place) = rows.get_mut(i) {
            *place = row;
        }
        for j in std::mem::take(&mut link.below) {
            let Some(next) = links.get_mut(j) else { continue };
            next.first = next.first.max(row + 1);
            next.waits_for -= 1;
            if next.waits_for == 0 {
                free.insert((next.about_us, j));
            }
        }
    }
    rows
}

fn links(cells: &[Cell<'_>]) -> Vec<Link> {
    let link = |(i, cell): (usize, &Cell<'_>)| {
        let after = cells.iter().enumerate().skip(i + 1);
        let below = after.filter(|(_, other)| other.lane == cell.lane || other.mark.has_seen(&cell.mark.place));
        Link {
            about_us: cell.mark.about_us,
            below: below.map(|(j, _)| j).collect(),
            waits_for: 0,
            first: 0,
            last: 0,
        }
    };
    let mut links: Vec<Link> = cells.iter().enumerate().map(link).collect();
    // How long the longest chain from each mark down is. All that is below a mark comes after it.
    let mut chains = vec![0; links.len()];
    for (i, link) in links.iter().enumerate().rev() {
        let longest = link.below.iter().filter_map(|j| chains.get(*j)).max();
        let chain = longest.map_or(0, |below| below + 1);
        if let Some(place) = chains.get_mut(i) {
            *place = chain;
        }
    }
    let end = chains.iter().copied().max().unwrap_or(0);
    let below: Vec<usize> = links.iter().flat_map(|link| link.below.iter().copied()).collect();
    for j in below {
        if let Some(link) = links.get_mut(j) {
            link.waits_for += 1;
        }
    }
    links
        .iter_mut()
        .zip(chains)
        .for_each(|(link, chain)| link.last = end - chain);
    links
}
