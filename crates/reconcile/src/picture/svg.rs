//! The picture as SVG text.
//!
//! Presentation attributes only: a style sheet would leak into the page around it. Identifiers begin with a hash of the
//! content, so that several pictures share a page. Text from facts is escaped, and control characters, which XML does not
//! allow, are replaced. Letters have a white edge, so that lines may run behind them.

use std::fmt::Write as _;

use super::layout::{LEFT, LETTER, Layout, ROW, Spot, TOP, Tied};
use super::routes::Route;
use super::scene::{Lane, Scene, Shape};
use crate::words::picture as words;

/// Lines of the key below the picture are so long at most, in letters.
const KEY_LETTERS: usize = 110;
/// From line to line in the key.
const KEY_ROW: u32 = 18;
/// The right margin.
const RIGHT: u32 = 16;

pub(super) fn write(scene: &Scene, layout: &Layout<'_>) -> String {
    let description = description(scene, layout);
    let id = format!(
        "gh{}",
        blake3::hash(description.as_bytes()).to_hex().get(..8).unwrap_or("0")
    );
    let key = key(layout);
    let narrow = LEFT + scene.lanes.len() as u32 * layout.lane_width + RIGHT;
    let key_width = (key.iter().map(|l| l.chars().count()).max().unwrap_or(0) as f64 * LETTER) as u32 + 60;
    let (width, key_top) = (narrow.max(key_width).max(560), layout.bottom() + 24);
    let height = key_top + KEY_ROW * (key.len() as u32 + 4);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} {height}\" \
         role=\"img\" aria-labelledby=\"{id}-t {id}-d\" font-family=\"system-ui, sans-serif\" font-size=\"12\" fill=\"#000\">\n\
         <title id=\"{id}-t\">{}</title>\n<desc id=\"{id}-d\">{}</desc>\n\
         <rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>\n",
        escaped(&scene.title),
        escaped(&description),
    );
    put(&mut out, &text(16, 28, 16, "bold", &scene.title));
    scene
        .lanes
        .iter()
        .enumerate()
        .for_each(|(i, lane)| put(&mut out, &head(layout, i, lane)));
    layout.arrows.iter().for_each(|route| put(&mut out, &meeting(route)));
    layout.clashes.iter().for_each(|tied| put(&mut out, &tie(tied)));
    let mut day = "";
    for spot in &layout.spots {
        put(&mut out, &time(spot, &mut day));
        put(&mut out, &mark(layout, spot));
    }
    put(&mut out, &signs(key_top));
    for (row, line) in (4u32..).zip(&key) {
        put(&mut out, &text(16, key_top + KEY_ROW * row, 12, "normal", line));
    }
    out.push_str("</svg>\n");
    out
}

fn put(out: &mut String, piece: &str) {
    out.push_str(piece);
    out.push('\n');
}

fn text(x: u32, y: u32, size: u32, weight: &str, content: &str) -> String {
    format!(
        "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" font-weight=\"{weight}\" stroke=\"#fff\" stroke-width=\"4\" \
         paint-order=\"stroke\" xml:space=\"preserve\">{}</text>",
        escaped(content)
    )
}

/// The name of a lane, what is known of its clock, and its line.
fn head(layout: &Layout<'_>, number: usize, lane: &Lane) -> String {
    let x = layout.lane_x(number);
    let fits = layout.letters_that_fit() + 3;
    format!(
        "{}{}<line x1=\"{x}\" y1=\"{}\" x2=\"{x}\" y2=\"{}\" stroke=\"#000\" stroke-width=\"1\"/>",
        text(x - 6, 58, 13, "bold", &clipped(&lane.name, fits)),
        text(x - 6, 74, 11, "normal", &clipped(&lane.clock, fits + 3)),
        TOP - 26,
        layout.bottom() - ROW / 2,
    )
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

/// A thick dotted line through the facts of a finding.
fn tie(tied: &Tied<'_>) -> String {
    let line = |route: &Route| {
        format!(
            "<path d=\"{}\" fill=\"none\" stroke=\"#000\" stroke-width=\"3\" stroke-dasharray=\"3 4\"/>",
            path(route)
        )
    };
    tied.lines.iter().map(line).collect()
}

/// The time in the margin, with the day where it is another than in the row above.
fn time<'s>(spot: &Spot<'s>, day: &mut &'s str) -> String {
    let at = spot.mark.at.as_str();
    let (date, clock) = (at.get(..10).unwrap_or_default(), at.get(11..19).unwrap_or(at));
    let mut out = text(14, spot.y + 4, 11, "normal", clock);
    if date != *day {
        *day = date;
        out.push_str(&text(14, spot.y - 9, 10, "bold", date));
    }
    out
}

fn mark(layout: &Layout<'_>, spot: &Spot<'_>) -> String {
    let (x, y, mark) = (spot.x, spot.y, spot.mark);
    let mut out = String::from("<g>");
    let title = format!("{} {}", mark.label, mark.small);
    write!(out, "<title>{}</title>", escaped(&title)).ok();
    if !spot.letters.is_empty() {
        write!(
            out,
            "<circle cx=\"{x}\" cy=\"{y}\" r=\"11\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"2.5\"/>"
        )
        .ok();
    }
    out.push_str(&shape(x, y, mark.shape));
    let number = spot.number.map_or_else(String::new, |n| format!("{n}  "));
    let fits = layout.letters_that_fit();
    let letters = if spot.letters.is_empty() {
        String::new()
    } else {
        format!("[{}] ", spot.letters)
    };
    let label = clipped(&format!("{number}{letters}{}", mark.label), fits);
    let weight = if spot.letters.is_empty() { "normal" } else { "bold" };
    let label = text(x + 18, y + 1, 12, weight, &label);
    if mark.is_struck {
        out.push_str(&format!("<g text-decoration=\"line-through\">{label}</g>"));
    } else {
        out.push_str(&label);
    }
    out.push_str(&text(
        x + 18,
        y + 14,
        10,
        "normal",
        &clipped(&mark.small, fits + fits / 6),
    ));
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

/// What the signs mean.
fn signs(top: u32) -> String {
    let (row1, row2) = (top + 6, top + 30);
    let mut out = format!(
        "<line x1=\"14\" y1=\"{0}\" x2=\"420\" y2=\"{0}\" stroke=\"#000\" stroke-width=\"0.5\"/>",
        top - 14
    );
    for (x, row, sign, says) in [
        (22, row1, Shape::Dot, words::FACT),
        (112, row1, Shape::Square, words::END_OF_JOB),
        (262, row1, Shape::Diamond, words::SIGHTING),
    ] {
        out.push_str(&shape(x, row, sign));
        out.push_str(&text(x + 12, row + 4, 11, "normal", says));
    }
    write!(
        out,
        "<path d=\"M14 {row2}L36 {row2}\" stroke=\"#000\" stroke-width=\"1.2\"/><path d=\"M44 {row2}L35 {}L35 {}Z\"/>\
         <path d=\"M306 {row2}L344 {row2}\" stroke=\"#000\" stroke-width=\"3\" stroke-dasharray=\"3 5\"/>",
        row2 - 4,
        row2 + 4
    )
    .ok();
    for (x, says) in [(50, words::SEEN), (352, words::CLASH)] {
        out.push_str(&text(x, row2 + 4, 11, "normal", says));
    }
    out
}

/// The findings in words.
fn key(layout: &Layout<'_>) -> Vec<String> {
    let mut lines = Vec::new();
    for tied in &layout.clashes {
        let said = format!("[{}]  {}", tied.letter, finding(tied));
        let mut line = String::new();
        for word in said.split(' ') {
            if !line.is_empty() && line.chars().count() + 1 + word.chars().count() > KEY_LETTERS {
                lines.push(std::mem::replace(&mut line, "      ".to_owned()));
            } else if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
        lines.push(line);
    }
    lines
}

fn finding(tied: &Tied<'_>) -> String {
    let clash = tied.clash;
    words::finding(&clash.rule, clash.severity, clash.standing, &clash.says)
}

/// The whole picture in sentences, for readers who cannot see it.
fn description(scene: &Scene, layout: &Layout<'_>) -> String {
    let name = |lane: usize| scene.lanes.get(lane).map_or("", |l| l.name.as_str());
    let lanes = scene.lanes.iter().map(|l| (l.name.as_str(), l.clock.as_str()));
    let mut out = words::lanes(&scene.title, lanes);
    for (i, spot) in layout.spots.iter().enumerate() {
        let what = format!("{}, {}", spot.mark.label, spot.mark.small);
        out.push_str(&words::mark(spot.number, name(spot.lane), &spot.mark.at, &what));
        let met = layout.meetings.iter().filter(|(_, to)| *to == i);
        for from in met.filter_map(|(from, _)| layout.spots.get(*from)) {
            out.push_str(&words::had_seen(name(from.lane), from.number));
        }
        out.push('.');
    }
    for tied in &layout.clashes {
        let numbers = tied.spots.iter().filter_map(|i| layout.spots.get(*i)?.number);
        out.push_str(&words::clash(&tied.letter, numbers, &finding(tied)));
    }
    out
}

/// At most so many letters; what is cut off is in the title of the mark.
fn clipped(text: &str, letters: usize) -> String {
    if text.chars().count() <= letters {
        return text.to_owned();
    }
    let kept: String = text.chars().take(letters.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}

/// Text that cannot be taken for markup, and that XML allows.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match (entity(c), c) {
            (Some(entity), _) => out.push_str(entity),
            (None, '\t' | '\n' | '\r') => out.push(' '),
            (None, c) if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push('\u{fffd}'),
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
