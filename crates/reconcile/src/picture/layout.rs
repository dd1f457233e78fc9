//! Positions: a row for each mark, a column for each lane, lines between them.

use std::collections::BTreeMap;

use gladhand_facts::Place;

use super::routes::{End, MEETING_BELOW, Route, TIE_BELOW, Ways};
use super::scene::{Clash, Mark, Scene, Shape};
use crate::order::{self, Placed};

/// The left margin, in which the times stand.
pub(super) const LEFT: u32 = 96;
/// The top margin, in which the title and the heads of the lanes stand.
pub(super) const TOP: u32 = 108;
/// From row to row.
pub(super) const ROW: u32 = 36;
/// A lane is at least and at most so wide.
const LANE: (u32, u32) = (180, 340);
/// About how wide a letter of the labels is: the sans-serif faces of the usual systems lie between 5.5 and 6.7 units at this size.
pub(super) const LETTER: f64 = 6.4;

/// A mark with its place on the picture.
pub(super) struct Spot<'s> {
    pub(super) mark: &'s Mark,
    /// The number of the fact in the history, from 1.
    pub(super) number: Option<usize>,
    pub(super) lane: usize,
    pub(super) x: u32,
    pub(super) y: u32,
    /// The letters of the findings that it makes.
    pub(super) letters: String,
}

/// A finding with its letter and the spots that make it, from top to bottom.
pub(super) struct Tied<'s> {
    pub(super) clash: &'s Clash,
    pub(super) letter: String,
    pub(super) spots: Vec<usize>,
    /// The lines from each to the next.
    pub(super) lines: Vec<Route>,
}

impl Spot<'_> {
    fn end(&self) -> End {
        let room = if self.letters.is_empty() { 7 } else { 13 };
        End {
            lane: self.lane,
            x: self.x,
            y: self.y,
            room,
        }
    }
}

pub(super) struct Layout<'s> {
    pub(super) lane_width: u32,
    pub(super) spots: Vec<Spot<'s>>,
    /// From spot to spot: what the second one's writer had newly seen.
    pub(super) meetings: Vec<(usize, usize)>,
    /// The lines of the meetings.
    pub(super) arrows: Vec<Route>,
    pub(super) clashes: Vec<Tied<'s>>,
}

impl<'s> Layout<'s> {
    pub(super) fn of(scene: &'s Scene) -> Self {
        let lane_width = lane_width(scene);
        let lanes: BTreeMap<_, usize> = scene.lanes.iter().enumerate().map(|(i, l)| (l.log, i)).collect();
        let mut y = TOP;
        let mut spots = Vec::new();
        for (number, mark) in rows(scene) {
            let Some(lane) = lanes.get(&mark.place.log).copied() else {
                continue;
            };
            spots.push(Spot {
                mark,
                number,
                lane,
                x: LEFT + lane as u32 * lane_width + 16,
                y,
                letters: String::new(),
            });
            y += ROW;
        }
        let mut clashes = tie(scene, &mut spots);
        let meetings = meetings(&spots);
        let mut ways = Ways::default();
        let mut run = |(from, to): (usize, usize), below| {
            let (from, to) = (spots.get(from)?, spots.get(to)?);
            Some(ways.route(from.end(), to.end(), below))
        };
        for tied in &mut clashes {
            let pairs = tied.spots.iter().copied().zip(tied.spots.iter().copied().skip(1));
            tied.lines = pairs.filter_map(|pair| run(pair, TIE_BELOW)).collect();
        }
        let arrows = meetings.iter().filter_map(|pair| run(*pair, MEETING_BELOW)).collect();
        Self {
            lane_width,
            meetings,
            arrows,
            clashes,
            spots,
        }
    }

    /// Where the rows end.
    pub(super) fn bottom(&self) -> u32 {
        TOP + self.spots.len() as u32 * ROW
    }

    pub(super) fn lane_x(&self, lane: usize) -> u32 {
        LEFT + lane as u32 * self.lane_width + 16
    }

    /// How many letters fit beside a mark.
    pub(super) fn letters_that_fit(&self) -> usize {
        (f64::from(self.lane_width.saturating_sub(64)) / LETTER) as usize
    }
}

fn lane_width(scene: &Scene) -> u32 {
    let heads = scene
        .lanes
        .iter()
        .map(|l| l.name.chars().count().max(l.clock.chars().count()));
    let labels = scene
        .facts
        .iter()
        .chain(&scene.sightings)
        .map(|m| m.label.chars().count() + 4);
    let longest = heads.chain(labels).max().unwrap_or(0);
    let wanted = (longest as f64 * LETTER) as u32 + 64;
    wanted.clamp(LANE.0, LANE.1)
}

/// Facts keep their order and their numbers. A sighting comes right after the last fact that it had seen.
fn rows(scene: &Scene) -> Vec<(Option<usize>, &Mark)> {
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

/// For each mark the last marks of other lanes that its writer had newly seen and that brought facts, unless they came with
/// another one.
fn meetings(spots: &[Spot<'_>]) -> Vec<(usize, usize)> {
    let mut found = Vec::new();
    let mut last_of: BTreeMap<usize, usize> = BTreeMap::new();
    for (i, spot) in spots.iter().enumerate() {
        let before = last_of.insert(spot.lane, i).and_then(|p| spots.get(p));
        let known = |place: &Place| before.is_some_and(|b| b.mark.has_seen(place) || b.mark.place == *place);
        let above = spots.get(..i).unwrap_or_default();
        let brings = |other: &Spot<'_>| {
            let mut facts = above.iter().filter(|f| f.number.is_some() && f.lane != spot.lane);
            facts.any(|f| {
                !known(&f.mark.place) && (f.mark.place == other.mark.place || other.mark.has_seen(&f.mark.place))
            })
        };
        let mut newest: BTreeMap<usize, usize> = BTreeMap::new();
        for (j, other) in above.iter().enumerate().filter(|(_, o)| o.lane != spot.lane) {
            let place = &other.mark.place;
            if spot.mark.has_seen(place) && !known(place) && brings(other) {
                newest.insert(other.lane, j);
            }
        }
        let came_with = |j: usize| {
            let place = spots.get(j).map(|s| s.mark.place);
            let mut others = newest.values().filter(|k| **k != j).filter_map(|k| spots.get(*k));
            place.is_some_and(|p| others.any(|s| s.mark.has_seen(&p)))
        };
        found.extend(newest.values().filter(|j| !came_with(**j)).map(|j| (*j, i)));
    }
    found
}

/// Letters for the findings, on the findings and on their facts.
fn tie<'s>(scene: &'s Scene, spots: &mut [Spot<'s>]) -> Vec<Tied<'s>> {
    let mut tied = Vec::new();
    for clash in &scene.clashes {
        let letter = letter(tied.len());
        let mut makes = Vec::new();
        for (i, spot) in spots.iter_mut().enumerate() {
            if spot.mark.shape != Shape::Diamond && clash.facts.contains(&spot.mark.place) {
                spot.letters.push_str(&letter);
                makes.push(i);
            }
        }
        if !makes.is_empty() {
            tied.push(Tied {
                clash,
                letter,
                spots: makes,
                lines: Vec::new(),
            });
        }
    }
    tied
}

/// A to Z, then A1 and so on.
fn letter(n: usize) -> String {
    let letter = char::from(b'A' + (n % 26) as u8);
    match n / 26 {
        0 => letter.to_string(),
        round => format!("{letter}{round}"),
    }
}
