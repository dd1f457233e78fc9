//! Small yards drawn: who is tied to whom, what is said in words, and that no text breaks out.

use gladhand_facts::{DeviceKey, LogId, Place, Stamp, VersionVector};
use proptest::prelude::*;

use std::sync::Arc;

use super::*;
use crate::finding::{Severity, Standing};
use crate::order::Placed;
use text::{Text, assert_nothing_overlaps, assert_says, attribute, texts};

#[path = "text_tests.rs"]
mod text;

fn log(n: u8) -> LogId {
    LogId {
        device: DeviceKey([n; 32]),
        incarnation: 1,
    }
}

/// A mark in log `n`; `seen` names other logs and how far.
fn mark(n: u8, seq: u64, seen: &[(u8, u64)], label: &str) -> Mark {
    Mark {
        place: Place {
            log: log(n),
            seq,
            index: 0,
        },
        stamp: Stamp::default(),
        seen: Arc::new(seen.iter().map(|(n, seq)| (log(*n), *seq)).collect()),
        shape: Shape::Dot,
        at: format!("2026-03-02T16:{seq:02}:00-05:00"),
        about_us: seq as i64 * 60_000_000,
        label: label.to_owned(),
        small: "mara".to_owned(),
        is_struck: false,
    }
}

fn scene(facts: Vec<Mark>, sightings: Vec<Mark>, clash: &[usize]) -> Scene {
    let lane = |n: u8| Lane {
        log: log(n),
        name: format!("lap-{n}"),
        clock: "clock never measured: ±24 h".to_owned(),
    };
    let clash = Clash {
        id: "f-xa7kghkzv7r9".to_owned(),
        rule: "camera-on-two-trackers".to_owned(),
        severity: Severity::Stop,
        standing: Standing::Unaware,
        says: "Camera C1 is linked to trackers T1 and T2.".to_owned(),
        facts: clash.iter().map(|i| facts[*i].place).collect(),
    };
    Scene {
        title: "History of camera C1".to_owned(),
        lanes: (1..=3).map(lane).collect(),
        sightings: sightings
            .into_iter()
            .map(|m| Mark {
                shape: Shape::Diamond,
                ..m
            })
            .collect(),
        facts,
        clashes: vec![clash],
    }
}

/// Two links that nobody could know of, and lap-3, which came later and had seen both.
fn dispute() -> Scene {
    let facts = vec![mark(1, 4, &[], "link C1 T1"), mark(2, 9, &[], "link C1 T2")];
    scene(facts, vec![mark(3, 2, &[(1, 4), (2, 9)], "had seen 1, 2")], &[0, 1])
}

/// Every tag that opens closes, in order, and nothing but tags and entities uses their signs.
fn assert_well_formed(svg: &str) {
    let mut open: Vec<&str> = Vec::new();
    let mut rest = svg;
    while let Some(at) = rest.find('<') {
        assert!(!rest[..at].contains('>'), "a stray > in {}", &rest[..at]);
        for entity in rest[..at].split('&').skip(1) {
            let name = entity.split(';').next().unwrap();
            assert!(["amp", "lt", "gt", "quot", "#39"].contains(&name), "&{name}");
        }
        let end = rest[at..].find('>').expect("a tag ends") + at;
        let tag = &rest[at + 1..end];
        assert!(!tag.contains('<'), "{tag}");
        match tag.strip_prefix('/') {
            Some(name) => assert_eq!(open.pop(), Some(name)),
            None if tag.ends_with('/') => {}
            None => open.push(tag.split(' ').next().unwrap()),
        }
        rest = &rest[end + 1..];
    }
    assert!(open.is_empty() && rest.trim().is_empty(), "{open:?} {rest}");
}

#[test]
fn a_dispute_has_its_lanes_its_ties_and_its_words() {
    let (svg, drawn) = dispute().draw();
    assert_well_formed(&svg);
    let wanted = Drawn {
        lanes: 3,
        facts: 2,
        meetings: 2,
        clashes: 1,
    };
    assert_eq!(drawn, wanted);
    assert_eq!(
        svg.matches("stroke-dasharray").count(),
        2,
        "one tie, and its sign in the key"
    );
    assert_eq!(svg.matches("r=\"11\"").count(), 2, "both facts are ringed");
    for words in [
        "role=\"img\"",
        "Times are in UTC-05:00, as the clock of each device showed them.",
        "1, lap-1 at 2026-03-02 16:04:00: link C1 T1, mara.",
        "had seen 1, 2, mara; seen what lap-1 wrote up to 1; seen what lap-2 wrote up to 2.",
        "Finding A, of 1, 2: f-xa7kghkzv7r9 camera-on-two-trackers (stop, unaware): Camera C1 is linked to trackers T1 and T2.",
    ] {
        assert!(svg.contains(words), "{words} is missing in {svg}");
    }
    assert_eq!(dispute().draw().0, svg, "the same scene is the same picture");
}

#[test]
fn the_title_and_the_description_are_named_apart_in_a_page_with_several_pictures() {
    let id = |svg: &str| {
        let at = svg.find("aria-labelledby=\"").unwrap() + 17;
        svg[at..].split('"').next().unwrap().to_owned()
    };
    let (one, _) = dispute().draw();
    let mut other = dispute();
    other.title.push('2');
    let (other, _) = other.draw();
    assert_ne!(id(&one), id(&other));
    for name in id(&one).split(' ') {
        assert_eq!(one.matches(&format!(" id=\"{name}\"")).count(), 1);
    }
}

/// lap-2 carries on what lap-1 wrote to lap-3: the line goes over lap-2, not beside it as well.
#[test]
fn what_came_with_something_later_has_no_line_of_its_own() {
    let facts = vec![
        mark(1, 1, &[], "job"),
        mark(2, 1, &[(1, 1)], "check"),
        mark(3, 1, &[(1, 1), (2, 1)], "sign-off"),
    ];
    assert_eq!(scene(facts, Vec::new(), &[]).draw().1.meetings, 2);
}

#[test]
fn a_sighting_that_brings_no_fact_has_no_line() {
    let facts = vec![mark(1, 1, &[], "stock")];
    let sightings = vec![
        mark(2, 1, &[(1, 1)], "had seen 1"),
        mark(3, 1, &[(1, 1)], "had seen 1"),
        mark(3, 5, &[(1, 1), (2, 9)], "had seen 1"),
    ];
    assert_eq!(scene(facts, sightings, &[]).draw().1.meetings, 2);
}

#[test]
fn facts_keep_the_numbers_of_the_history_whatever_was_seen_between_them() {
    let facts = vec![
        mark(1, 1, &[], "job"),
        mark(1, 5, &[], "link"),
        mark(2, 7, &[(1, 5)], "sign-off"),
    ];
    let sightings = vec![
        mark(2, 3, &[(1, 1)], "had seen 1"),
        mark(3, 1, &[(1, 5), (2, 7)], "had seen 1-3"),
    ];
    let (svg, _) = scene(facts, sightings, &[]).draw();
    let row = |label: &str| {
        let of = |t: &Text| t.content.replace('\u{a0}', " ") == label;
        let text = texts(&svg).into_iter().find(of);
        text.unwrap_or_else(|| panic!("{label} in {svg}")).y
    };
    let order = ["1  job", "had seen 1", "3  sign-off", "had seen 1-3"].map(row);
    assert_eq!(row("2  link"), row("had seen 1"), "neither had seen the other");
    assert!(order.is_sorted(), "{order:?}");
}

#[test]
fn each_fact_of_a_finding_has_its_id_and_rule_beside_its_ring() {
    let (svg, _) = dispute().draw();
    let tags: Vec<Text> = texts(&svg)
        .into_iter()
        .filter(|t| t.content.contains("f-xa7kghkzv7r9"))
        .collect();
    assert_eq!(tags.len(), 3, "at both facts and in the key");
    for ring in svg.split("<circle ").filter(|tag| tag.contains("r=\"11\"")) {
        let tag = format!(" {ring}");
        let at = |name: &str| attribute(&tag, name).unwrap().parse::<u32>().unwrap();
        let near = |t: &&Text| (at("cx")..at("cx") + 30).contains(&t.x) && (at("cy")..at("cy") + 40).contains(&t.y);
        let beside = tags.iter().find(near).expect("a tag beside the ring");
        assert!(beside.content.starts_with("[A] stop"), "{}", beside.content);
    }
    assert_says(&svg, "[A] stop f-xa7kghkzv7r9 camera-on-two-trackers");
}

#[test]
fn a_day_is_named_where_it_changes_and_the_zone_once() {
    let mut facts = vec![
        mark(1, 1, &[], "job"),
        mark(1, 2, &[], "link"),
        mark(1, 3, &[], "sign-off"),
    ];
    facts[2].at = "2026-03-04T02:00:00Z".to_owned();
    let sighting = Mark {
        at: "2026-03-03T05:00:00Z".to_owned(),
        ..mark(2, 1, &[(1, 1)], "had seen 1")
    };
    let (svg, _) = scene(facts, vec![sighting], &[]).draw();
    let days: Vec<String> = texts(&svg).into_iter().map(|t| t.content).collect();
    let count = |day: &str| days.iter().filter(|d| *d == day).count();
    assert_eq!((count("2026-03-02"), count("2026-03-03")), (1, 2), "{days:?}");
    assert_says(&svg, "16:02:00, mara");
    assert_says(&svg, "21:00:00, mara");
    assert_says(&svg, "00:00:00, mara");
    assert_eq!(days.iter().filter(|d| d.contains("UTC-05:00")).count(), 1);
}

#[test]
fn a_lane_without_a_mark_is_not_drawn() {
    let facts = vec![mark(1, 1, &[], "job"), mark(3, 1, &[], "link")];
    let (svg, drawn) = scene(facts, Vec::new(), &[]).draw();
    assert_eq!(drawn.lanes, 2);
    assert!(!svg.contains("lap-2") && svg.contains("lap-3"));
    let nothing = scene(Vec::new(), Vec::new(), &[]).draw();
    assert_eq!((nothing.1.lanes, nothing.1.facts), (0, 0));
    assert_well_formed(&nothing.0);
}

#[test]
fn no_word_is_cut_and_no_text_overlaps_another() {
    let note = "note 0302-T12 There is a ladder and a stack of pallets in front of the right-hand front wall, \
                the tape was pressed for thirty seconds at each of the marked places";
    let mut facts = vec![
        mark(1, 4, &[], note),
        mark(2, 9, &[], note),
        mark(1, 5, &[(2, 9)], note),
    ];
    facts[1].small = "maximiliane-von-und-zu-hohenstein-waldenburg, entry 26, really 2026-03-01 22:14:05 ±24 h".into();
    facts[2].is_struck = true;
    let sighting = mark(3, 2, &[(1, 5), (2, 9)], "had seen 1, 2, 3");
    let mut scene = scene(facts, vec![sighting], &[0, 1, 2]);
    scene.lanes[1].name = "the-laptop-of-the-second-night-shift in the yard office of Tolland".into();
    scene.title = format!("History of trailer {}", "LF 5396, trailer ".repeat(20));
    scene.clashes[0].says = "Camera C1 is linked to trackers T1 and T2. ".repeat(12);
    let (svg, _) = scene.draw();
    assert!(!svg.contains('…'));
    assert_nothing_overlaps(&svg);
    for words in [&scene.title, &scene.lanes[1].name, &scene.clashes[0].says] {
        assert_says(&svg, words);
    }
    for (number, fact) in (1..).zip(&scene.facts) {
        assert_says(&svg, &format!("{number} {}", fact.label));
        assert_says(&svg, &fact.small);
    }
    let struck = svg.split("line-through").count() - 1;
    assert!(struck > 1, "each line of a withdrawn fact is struck through");
}

/// Two visits that nobody could know of, and an office that had seen half of one of them.
#[test]
fn what_had_not_seen_each_other_stands_side_by_side() {
    let mut facts: Vec<Mark> = (1..=6).map(|seq| mark(1, seq, &[], "check")).collect();
    facts.extend((3..=5).map(|seq| mark(2, seq, &[], "check")));
    facts.push(mark(3, 4, &[(1, 3)], "note"));
    let scene = scene(facts, vec![mark(3, 9, &[(1, 6), (2, 5)], "had seen 1-9")], &[]);
    let (_, cells) = rows::grid(&scene);
    assert_eq!(
        cells.iter().map(|c| c.row).max(),
        Some(6),
        "no more rows than the longest chain"
    );
    let row = |n: u8, seq: u64| {
        let at = |c: &&rows::Cell<'_>| c.mark.place.log == log(n) && c.mark.place.seq == seq;
        cells.iter().find(at).unwrap().row
    };
    assert_eq!(
        [row(2, 3), row(2, 4), row(2, 5)],
        [2, 3, 4],
        "beside what was written at that time"
    );
    assert_eq!((row(3, 4), row(3, 9)), (3, 6));
    assert_rows_keep_the_order(&scene);
}

/// Whoever had seen something stands below it; a lane keeps its order and has one mark to a row.
fn assert_rows_keep_the_order(scene: &Scene) {
    let (_, cells) = rows::grid(scene);
    for (i, cell) in cells.iter().enumerate() {
        for above in &cells[..i] {
            let must = above.lane == cell.lane || cell.mark.has_seen(&above.mark.place);
            assert!(!must || above.row < cell.row, "{:?} {:?}", above.mark, cell.mark);
        }
    }
}

/// Days of three devices: each writes, and now and then takes in all that another one holds.
fn days() -> impl Strategy<Value = Scene> {
    let step = (1..=3u8, 0..=6u8, -600..600i64);
    prop::collection::vec(step, 0..40).prop_map(|steps| {
        let mut known: Vec<VersionVector> = vec![VersionVector::default(); 4];
        let mut facts = Vec::new();
        for (who, from, clock_s) in steps {
            let seq = known[usize::from(who)].get(&log(who)) + 1;
            if (1..=3).contains(&from) && from != who {
                let theirs = known[usize::from(from)].clone();
                known[usize::from(who)].merge(&theirs);
            }
            facts.push(Mark {
                seen: Arc::new(known[usize::from(who)].clone()),
                about_us: clock_s,
                ..mark(who, seq, &[], "check side ok")
            });
            known[usize::from(who)].advance(log(who), seq);
        }
        scene(facts, Vec::new(), &[])
    })
}

proptest! {
    #[test]
    fn no_text_breaks_out(label in "\\PC{0,60}|[<>&\"'\\x00-\\x1f]{0,20}", name in "\\PC{0,20}|[<>&\"']{0,9}", at in "\\PC{0,30}") {
        let mut scene = dispute();
        for mark in &mut scene.facts {
            (mark.label, mark.small, mark.at) = (label.clone(), label.clone(), at.clone());
        }
        scene.lanes[0].name = name.clone();
        scene.title = name;
        scene.clashes[0].says = label;
        let (svg, _) = scene.draw();
        assert_well_formed(&svg);
        prop_assert!(svg.chars().all(|c| c == '\n' || !c.is_control()));
    }

    #[test]
    fn rows_keep_the_order_whatever_the_clocks_say(scene in days()) {
        assert_rows_keep_the_order(&scene);
        assert_nothing_overlaps(&scene.draw().0);
    }
}
