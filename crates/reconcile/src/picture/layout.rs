//! Positions: the grid of lanes and rows in units of the picture. Lanes are as wide as their text, rows as high as theirs.

use std::collections::BTreeMap;

use super::blocks::{self, Block, Line};
use super::routes::{Join, Spot, Ways};
use super::rows::{self, Cell};
use super::scene::{Lane, Scene};
use super::ties::{self, Tied};
use super::times::{Shown, Zone};

/// The margin around everything.
pub(super) const MARGIN: u32 = 16;
/// No picture is narrower: its key needs so much.
const LEAST_WIDTH: u32 = 560;
/// The space below the title, above the heads of the lanes.
const BELOW_TITLE: u32 = 14;
/// Text stands so far right of its mark.
pub(super) const TEXT: u32 = 19;
/// The first way beside a lane lies so far left of it: a ring and the head of an arrow fit between.
const BESIDE: u32 = 25;
/// From way to way.
const APART: u32 = 6;
/// Between the text of a lane and the ways of the next one.
const GUTTER: u32 = 10;
/// A ring reaches so far from the middle of its mark.
const RING: u32 = 13;
/// From the middle of a mark down to the foot of its first line of text.
const FOOT: u32 = 5;
/// Between the text of a row and the first way below it.
const GAP: u32 = 8;
/// Between rows without ways.
const BETWEEN: u32 = 6;

/// A line by its corners.
pub(super) type Route = Vec<(u32, u32)>;

/// A lane with its place.
pub(super) struct Column<'s> {
    pub(super) lane: &'s Lane,
    /// Where its marks stand.
    pub(super) x: u32,
    pub(super) head: Vec<Line>,
}

/// A mark with its place.
pub(super) struct Placed<'s> {
    pub(super) cell: Cell<'s>,
    pub(super) shown: Shown,
    pub(super) block: Block,
    pub(super) is_ringed: bool,
    pub(super) x: u32,
    pub(super) y: u32,
}

pub(super) struct Layout<'s> {
    pub(super) zone: Zone,
    pub(super) columns: Vec<Column<'s>>,
    /// In the order of the history.
    pub(super) marks: Vec<Placed<'s>>,
    /// From mark to mark: what the second one's writer had newly seen.
    pub(super) meetings: Vec<(usize, usize)>,
    /// The lines of the meetings.
    pub(super) arrows: Vec<Route>,
    pub(super) ties: Vec<Tied<'s>>,
    /// The lines of the findings.
    pub(super) tie_lines: Vec<Route>,
    /// Where the heads of the lanes begin.
    pub(super) heads_y: u32,
    /// Where the lines of the lanes begin and end.
    pub(super) lanes_y: (u32, u32),
    /// The title, and in which zone the times are.
    pub(super) title: Vec<Line>,
    /// How wide the picture is.
    pub(super) width: u32,
}

impl<'s> Layout<'s> {
    pub(super) fn of(scene: &'s Scene) -> Self {
        let (lanes, cells) = rows::grid(scene);
        let (ties, meetings) = (ties::ties(scene, &cells), ties::meetings(&cells));
        let (joins, tie_count) = joins(&cells, &ties, &meetings);
        let ways = Ways::of(&joins);
        let zone = Zone::of(scene);
        let mut marks = written(cells, zone, &ties);
        let (columns, right) = columns(&lanes, &mut marks, &ways);
        let width = (right + MARGIN).max(LEAST_WIDTH);
        let title = blocks::wrapped(&blocks::title(&scene.title, zone), width - 2 * MARGIN);
        let heads_y = MARGIN + blocks::height(&title) + BELOW_TITLE;
        let heads = columns.iter().map(|c| blocks::height(&c.head)).max();
        let top = heads_y + heads.unwrap_or(0) + 8;
        let grid = Grid {
            xs: columns.iter().map(|c| c.x).collect(),
            rows: heights(&marks, &ways, top),
        };
        for mark in &mut marks {
            (mark.x, mark.y) = (grid.x(mark.cell.lane), grid.row(mark.cell.row).middle);
        }
        let mut routes = joins.iter().enumerate().map(|(i, join)| {
            let number = |of: &[usize]| of.get(i).copied().unwrap_or(0) as u32;
            grid.route(join, number(&ways.beside), number(&ways.across))
        });
        let tie_lines = routes.by_ref().take(tie_count).collect();
        let arrows = routes.collect();
        let bottom = grid.rows.last().map_or(top, |row| row.gap);
        Self {
            zone,
            columns,
            marks,
            meetings,
            arrows,
            ties,
            tie_lines,
            heads_y,
            lanes_y: (top, bottom),
            title,
            width,
        }
    }
}

/// What lines must join: first the findings, then what was seen; and how many of the first there are.
fn joins(cells: &[Cell<'_>], ties: &[Tied<'_>], meetings: &[(usize, usize)]) -> (Vec<Join>, usize) {
    let spot = |i: usize| {
        let cell = cells.get(i);
        cell.map(|c| Spot {
            lane: c.lane,
            row: c.row,
            is_ringed: is_ringed(i, ties),
        })
    };
    let join = |from, to, bundle| {
        let (from, to) = (spot(from)?, spot(to)?);
        Some(Join { from, to, bundle })
    };
    let pairs = ties
        .iter()
        .flat_map(|tied| tied.marks.iter().zip(tied.marks.iter().skip(1)));
    // Every line of a finding has a way of its own; arrows that leave one mark share theirs.
    let tied = (cells.len()..).zip(pairs);
    let mut joins: Vec<Join> = tied.filter_map(|(own, (from, to))| join(*from, *to, own)).collect();
    let count = joins.len();
    joins.extend(meetings.iter().filter_map(|(from, to)| join(*from, *to, *from)));
    (joins, count)
}

fn is_ringed(mark: usize, ties: &[Tied<'_>]) -> bool {
    ties.iter().any(|tied| tied.marks.contains(&mark))
}

/// The marks with their text, not yet in their places.
fn written<'s>(cells: Vec<Cell<'s>>, zone: Zone, ties: &[Tied<'s>]) -> Vec<Placed<'s>> {
    let mut days: BTreeMap<usize, String> = BTreeMap::new();
    let place = |(i, cell): (usize, Cell<'s>)| {
        let shown = zone.shown(&cell.mark.at);
        let before = days.insert(cell.lane, shown.day.clone());
        let is_new_day = !shown.day.is_empty() && before.as_ref() != Some(&shown.day);
        let makes: Vec<&Tied<'_>> = ties.iter().filter(|tied| tied.marks.contains(&i)).collect();
        Placed {
            block: Block::of(&cell, &shown, is_new_day, &makes),
            is_ringed: !makes.is_empty(),
            shown,
            cell,
            x: 0,
            y: 0,
        }
    };
    cells.into_iter().enumerate().map(place).collect()
}

/// The lanes side by side, the text of their marks wrapped to fit, and where the last one ends.
fn columns<'s>(lanes: &[&'s Lane], marks: &mut [Placed<'s>], ways: &Ways) -> (Vec<Column<'s>>, u32) {
    let mut columns = Vec::new();
    let mut right = MARGIN;
    for (number, lane) in lanes.iter().enumerate() {
        let head = blocks::head(lane);
        let in_lane = || marks.iter().filter(|m| m.cell.lane == number);
        let width = blocks::wanted(head.iter().chain(in_lane().flat_map(|m| m.block.all())));
        for mark in marks.iter_mut().filter(|m| m.cell.lane == number) {
            mark.block.lines = blocks::wrapped(&mark.block.lines, width);
        }
        let beside = ways.beside_lane.get(&number).map_or(0, |count| *count as u32 - 1);
        let x = right + BESIDE + APART * beside;
        columns.push(Column {
            lane,
            x,
            head: blocks::wrapped(&head, width),
        });
        right = x + TEXT + width + GUTTER;
    }
    (columns, right)
}

/// A row with its place.
#[derive(Clone, Copy, Default)]
struct Row {
    /// Where its marks stand.
    middle: u32,
    /// Where the gap below its text begins.
    gap: u32,
}

struct Grid {
    xs: Vec<u32>,
    rows: Vec<Row>,
}

fn heights(marks: &[Placed<'_>], ways: &Ways, top: u32) -> Vec<Row> {
    let count = marks.iter().map(|m| m.cell.row + 1).max().unwrap_or(0);
    let (mut above, mut below) = (vec![RING; count], vec![RING; count]);
    for mark in marks {
        let day = mark.block.day.as_ref().map_or(0, |line| line.style.line_height());
        // The first line stands beside the mark.
        let first = mark.block.lines.first().map_or(0, |line| line.style.line_height());
        let rest = blocks::height(&mark.block.lines).saturating_sub(first) + FOOT;
        for (heights, height) in [(&mut above, RING + day), (&mut below, rest)] {
            if let Some(row) = heights.get_mut(mark.cell.row) {
                *row = height.max(*row);
            }
        }
    }
    let mut y = top;
    let mut rows = Vec::new();
    for (number, (above, below)) in above.into_iter().zip(below).enumerate() {
        let row = Row {
            middle: y + above,
            gap: y + above + below,
        };
        rows.push(row);
        let ways = ways
            .below_row
            .get(&number)
            .map_or(0, |count| GAP + APART * *count as u32);
        y = row.gap + ways.max(BETWEEN);
    }
    rows
}

impl Grid {
    fn x(&self, lane: usize) -> u32 {
        self.xs.get(lane).copied().unwrap_or(MARGIN)
    }

    fn row(&self, row: usize) -> Row {
        self.rows.get(row).copied().unwrap_or_default()
    }

    /// The corners of a line.
    fn route(&self, join: &Join, beside: u32, across: u32) -> Route {
        let room = |spot: &Spot| if spot.is_ringed { RING } else { 7 };
        let (from, to) = (self.row(join.from.row), self.row(join.to.row));
        let (from_x, to_x) = (self.x(join.from.lane), self.x(join.to.lane));
        let x = to_x.saturating_sub(BESIDE + APART * beside);
        let end = [(x, to.middle), (to_x.saturating_sub(room(&join.to)), to.middle)];
        let start = if join.from.lane == join.to.lane {
            let out = from_x.saturating_sub(room(&join.from));
            vec![(out, from.middle), (x, from.middle)]
        } else {
            let y = from.gap + GAP + APART * across;
            vec![(from_x, from.middle + room(&join.from)), (from_x, y), (x, y)]
        };
        start.into_iter().chain(end).collect()
    }
}
