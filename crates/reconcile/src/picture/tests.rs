//! Small yards drawn: who is tied to whom, what is said in words, and that no text breaks out.

use gladhand_facts::{DeviceKey, LogId, Place, Stamp};
use proptest::prelude::*;

use std::sync::Arc;

use super::*;
use crate::finding::{Severity, Standing};

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
        "1, lap-1 at 2026-03-02T16:04:00-05:00: link C1 T1, mara.",
        "had seen 1, 2, mara; seen what lap-1 wrote up to 1; seen what lap-2 wrote up to 2.",
        "Finding A, of 1, 2: camera-on-two-trackers (stop, unaware): Camera C1 is linked to trackers T1 and T2.",
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
        svg.find(&format!(">{label}</text>"))
            .unwrap_or_else(|| panic!("{label} in {svg}"))
    };
    let order = ["1  job", "had seen 1", "2  link", "3  sign-off", "had seen 1-3"].map(row);
    assert!(order.is_sorted(), "{order:?}");
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
}
