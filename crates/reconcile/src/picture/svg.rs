//! The picture as SVG text.
//!
//! Presentation attributes only: a style sheet would leak into the page around it. Identifiers begin with a hash of the
//! content, so that several pictures share a page. Text from facts is escaped, and control characters, which XML does not
//! allow, are replaced.

use std::fmt::Write as _;

use super::blocks::{self, Line};
use super::key::{self, Sign};
use super::layout::{Column, Layout, MARGIN, Placed, Route, TEXT};
use super::letters::Style;
use super::scene::{Scene, Shape};
use crate::words::picture as words;

/// From sign to sign in the key.
const SIGN_ROW: u32 = 20;
/// Between findings in the key.
const BETWEEN_FINDINGS: u32 = 6;

pub(super) fn write(scene: &Scene, layout: &Layout<'_>) -> String {
    let description = description(scene, layout);
    let (key, height) = key(layout);
    let mut out = opening(scene, layout.width, height, &description);
    put(&mut out, &lines(&layout.title, MARGIN, MARGIN + 12));
    layout.columns.iter().for_each(|c| put(&mut out, &head(layout, c)));
    layout.arrows.iter().for_each(|route| put(&mut out, &meeting(route)));
    layout.tie_lines.iter().for_each(|route| put(&mut out, &tie(route)));
    layout.marks.iter().for_each(|mark| put(&mut out, &written(mark)));
    out.push_str(&key);
    out.push_str("</svg>\n");
    out
}

fn opening(scene: &Scene, width: u32, height: u32, description: &str) -> String {
    let id = format!(
        "gh{}",
        blake3::hash(description.as_bytes()).to_hex().get(..8).unwrap_or("0")
    );
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} {height}\" \
         role=\"img\" aria-labelledby=\"{id}-t {id}-d\" font-family=\"system-ui, sans-serif\" font-size=\"12\" fill=\"#000\">\n\
         <title id=\"{id}-t\">{}</title>\n<desc id=\"{id}-d\">{}</desc>\n\
         <rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>\n",
        escaped(&scene.title),
        escaped(description),
    )
}

fn put(out: &mut String, piece: &str) {
    out.push_str(piece);
    out.push('\n');
}

fn text(x: u32, y: u32, style: Style, content: &str) -> String {
    let weight = if style.is_bold { " font-weight=\"bold\"" } else { "" };
    format!(
        "<text x=\"{x}\" y=\"{y}\" font-size=\"{}\"{weight}>{}</text>",
        style.size,
        escaped(content)
    )
}

/// Lines of text, the foot of the first one at `y`.
fn lines(lines: &[Line], x: u32, mut y: u32) -> String {
    let mut out = String::new();
    for (i, line) in lines.iter().enumerate() {
        if i > 0 {
            y += line.style.line_height();
        }
        let written = text(x, y, line.style, &line.text);
        if line.is_struck {
            write!(out, "<g text-decoration=\"line-through\">{written}</g>").ok();
        } else {
            out.push_str(&written);
        }
    }
    out
}

/// The name of a lane, what is known of its clock, and its line.
fn head(layout: &Layout<'_>, column: &Column<'_>) -> String {
    let (x, (top, bottom)) = (column.x, layout.lanes_y);
    let head = lines(&column.head, x.saturating_sub(6), layout.heads_y + 12);
    format!("{head}<line x1=\"{x}\" y1=\"{top}\" x2=\"{x}\" y2=\"{bottom}\" stroke=\"#000\" stroke-width=\"1\"/>")
}

fn path(route: &Route) -> String {
    let corners: Vec<String> = route.iter().map(|(x, y)| format!("{x} {y}")).collect();
    format!("M{}", corners.join("L"))
}

/// A thin line with an arrow, from what was seen to where it had been seen.
fn meeting(route: &Route) -> String {
    let Some((x, y)) = route.last() else {
        return String::new();
    };
    let (back, above, below) = (x.saturating_sub(8), y.saturating_sub(4), y + 4);
    format!(
        "<path d=\"{}\" stroke=\"#000\" stroke-width=\"1.2\" stroke-linejoin=\"round\" fill=\"none\"/>\
         <path d=\"M{x} {y}L{back} {above}L{back} {below}Z\"/>",
        path(route),
    )
}

/// A thick dotted line from one fact of a finding to the next.
fn tie(route: &Route) -> String {
    format!(
        "<path d=\"{}\" fill=\"none\" stroke=\"#000\" stroke-width=\"3\" stroke-dasharray=\"3 4\"/>",
        path(route)
    )
}

/// A mark with all that is written at it.
fn written(placed: &Placed<'_>) -> String {
    let (x, y, mark) = (placed.x, placed.y, placed.cell.mark);
    let mut out = format!(
        "<g><title>{}</title>",
        escaped(&format!("{} {}", mark.label, mark.small))
    );
    if placed.is_ringed {
        write!(
            out,
            "<circle cx=\"{x}\" cy=\"{y}\" r=\"11\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"2.5\"/>"
        )
        .ok();
    }
    out.push_str(&shape(x, y, mark.shape));
    if let Some(day) = &placed.block.day {
        out.push_str(&text(x + TEXT, y.saturating_sub(12), day.style, &day.text));
    }
    out.push_str(&lines(&placed.block.lines, x + TEXT, y + 4));
    out.push_str("</g>");
    out
}

fn shape(x: u32, y: u32, shape: Shape) -> String {
    match shape {
        Shape::Dot => format!("<circle cx=\"{x}\" cy=\"{y}\" r=\"5\"/>"),
        Shape::Square => format!(
            "<rect x=\"{}\" y=\"{}\" width=\"11\" height=\"11\"/>",
            x.saturating_sub(5),
            y.saturating_sub(5)
        ),
        Shape::Diamond => format!(
            "<path d=\"M{x} {}L{} {y}L{x} {}L{} {y}Z\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"1.5\"/>",
            y.saturating_sub(6),
            x + 6,
            y + 6,
            x.saturating_sub(6)
        ),
    }
}

/// The key, and where the picture ends below it.
fn key(layout: &Layout<'_>) -> (String, u32) {
    let mut y = layout.lanes_y.1 + 26;
    let mut out = format!(
        "<line x1=\"{MARGIN}\" y1=\"{y}\" x2=\"{}\" y2=\"{y}\" stroke=\"#000\" stroke-width=\"0.5\"/>\n",
        layout.width - MARGIN
    );
    for (sign, says) in key::SIGNS {
        y += SIGN_ROW;
        put(
            &mut out,
            &(sign_at(sign, y) + &text(MARGIN + 44, y + 4, Style::plain(11), says)),
        );
    }
    y += SIGN_ROW + BETWEEN_FINDINGS;
    for finding in key::findings(layout) {
        put(&mut out, &lines(&finding, MARGIN, y + 4));
        y += blocks::height(&finding) + BETWEEN_FINDINGS;
    }
    (out, y)
}

fn sign_at(sign: Sign, y: u32) -> String {
    let (left, middle, right) = (MARGIN, MARGIN + 16, MARGIN + 32);
    match sign {
        Sign::Mark(mark) => shape(middle, y, mark),
        Sign::Arrow => meeting(&vec![(left, y), (right, y)]),
        Sign::Tie => tie(&vec![(left, y), (right, y)]),
        Sign::SideBySide => shape(left + 7, y, Shape::Dot) + &shape(right - 7, y, Shape::Dot),
    }
}

/// The whole picture in sentences, for readers who cannot see it.
fn description(scene: &Scene, layout: &Layout<'_>) -> String {
    let name = |lane: usize| layout.columns.get(lane).map_or("", |c| c.lane.name.as_str());
    let lanes = layout
        .columns
        .iter()
        .map(|c| (c.lane.name.as_str(), c.lane.clock.as_str()));
    let mut out = words::lanes(&scene.title, &layout.zone.name(), lanes);
    for (i, placed) in layout.marks.iter().enumerate() {
        let (cell, mark) = (&placed.cell, placed.cell.mark);
        let what = words::what(&mark.label, &mark.small, mark.is_struck);
        out.push_str(&words::mark(
            cell.number,
            name(cell.lane),
            &placed.shown.in_full(),
            &what,
        ));
        let met = layout.meetings.iter().filter(|(_, to)| *to == i);
        for from in met.filter_map(|(from, _)| layout.marks.get(*from)) {
            out.push_str(&words::had_seen(name(from.cell.lane), from.cell.number));
        }
        out.push('.');
    }
    for tied in &layout.ties {
        let numbers = tied.marks.iter().filter_map(|i| layout.marks.get(*i)?.cell.number);
        out.push_str(&words::clash(&tied.letter, numbers, &key::finding(tied)));
    }
    out
}

/// Text that cannot be taken for markup, that XML allows, and that keeps its direction.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match (entity(c), c) {
            (Some(entity), _) => out.push_str(entity),
            (None, '\t' | '\n' | '\r') => out.push(' '),
            (None, '\u{fffe}' | '\u{ffff}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}') => out.push('\u{fffd}'),
            (None, c) if c.is_control() => out.push('\u{fffd}'),
            (None, c) => out.push(c),
        }
    }
    out
}

/// How a character that means something in markup is written there as itself.
pub fn entity(c: char) -> Option<&'static str> {
    match c {
        '&' => Some("&amp;"),
        '<' => Some("&lt;"),
        '>' => Some("&gt;"),
        '"' => Some("&quot;"),
        '\'' => Some("&#39;"),
        _ => None,
    }
}
