use super::*;
use crate::situation::WallReading;

pub(super) fn m(text: &str) -> Measure {
    Measure::parse(text).unwrap()
}

pub(super) fn at(depth: &str) -> Observation {
    Observation::At {
        depth: m(depth),
        uncertainty: None,
        doubted: false,
    }
}

pub(super) fn reading(check: &str, observed: Observation) -> WallReading {
    WallReading {
        check: check.to_owned(),
        observed,
        stands: false,
    }
}

/// A loaded trailer whose wall, thickness and freight are known and stand in no way of a clear answer.
pub(super) fn loaded(wall: &str, readings: Vec<WallReading>) -> Situation {
    Situation {
        wall: Some(wall.to_owned()),
        load: Some("loaded".to_owned()),
        thickness: Some(m("5/8 in")),
        freight_at_opening: Some(false),
        readings,
        ..Situation::default()
    }
}

pub(super) fn answer(situation: &Situation) -> Answer {
    decide(&Standard::built_in(), situation)
}

/// One word for an answer, as the tables below write it.
pub(crate) fn word(answer: &Answer) -> String {
    match answer {
        Answer::Clear { .. } => "clear".into(),
        Answer::Blocked { .. } => "blocked".into(),
        Answer::NotDecidable { .. } => "not decidable".into(),
        Answer::Next { check, .. } => format!("next {check}"),
        Answer::Unknown { missing } => format!("unknown {}", missing.join(" ")),
    }
}

/// Asserts one row in inches, and the same depth written in millimetres (1/64 in is 0.396875 mm exactly).
fn check_row(sixty_fourths: i64, wanted: &str, make: impl Fn(Observation) -> Situation) {
    let millionths = i128::from(sixty_fourths) * 396_875;
    let mm = format!("{}.{:06} mm", millionths / 1_000_000, millionths % 1_000_000);
    let inch = format!("{sixty_fourths}/64 in");
    for spelling in [inch, mm] {
        assert_eq!(word(&answer(&make(at(&spelling)))), wanted, "{spelling}");
    }
}

pub(super) fn first_probe(wall: &str, observed: Observation) -> Situation {
    loaded(
        wall,
        vec![
            reading("pilot-hole", Observation::Seen(true)),
            reading("first-probe", observed),
        ],
    )
}

pub(super) fn second_probe(observed: Observation) -> Situation {
    let readings = vec![
        reading("pilot-hole", Observation::Seen(true)),
        reading("first-probe", at("1/4 in")),
        reading("pilot-depth", at("5/8 in")),
        reading("second-probe", observed),
        reading("second-hole-entered", Observation::Seen(true)),
    ];
    loaded("sheet-and-post", readings)
}

/// TRADE §2, sheet-and-post, first probe: each band, each gap, each edge; 1/32 in is two 64ths.
#[test]
fn sheet_and_post_first_probe() {
    let rows = [
        (0, "next pilot-depth"),
        (16, "next pilot-depth"),
        (29, "next pilot-depth"),
        (30, "not decidable"), // 15/32: its upper end is 1/2, which is not "less than 1/2"
        (31, "not decidable"),
        (32, "not decidable"), // 1/2: the gap begins
        (36, "not decidable"),
        (39, "not decidable"),
        (40, "blocked"), // 5/8
        (64, "blocked"),
        (96, "blocked"), // 1 1/2
        (97, "not decidable"),
        (112, "not decidable"),
        (127, "not decidable"),
        (128, "not decidable"), // 2 in as a bare depth may be a little less
        (129, "not decidable"),
        (130, "clear"), // 2 1/32
        (200, "clear"),
    ];
    for (depth, wanted) in rows {
        check_row(depth, wanted, |observed| first_probe("sheet-and-post", observed));
    }
    assert_eq!(
        word(&answer(&first_probe("sheet-and-post", Observation::Free))),
        "clear"
    );
}

/// TRADE §2, sheet-and-post, second probe.
#[test]
fn sheet_and_post_second_probe() {
    let rows = [
        (0, "not decidable"), // wholly under 5/8: the hole in the liner was missed
        (37, "not decidable"),
        (38, "blocked"), // 19/32: its upper end is 5/8
        (39, "blocked"),
        (40, "blocked"), // stops at 5/8
        (42, "blocked"), // 21/32: its lower end is 5/8
        (43, "not decidable"),
        (44, "not decidable"),
        (47, "not decidable"),
        (48, "blocked"), // 3/4
        (80, "blocked"),
        (96, "blocked"), // 1 1/2
        (97, "not decidable"),
        (128, "not decidable"),
        (129, "not decidable"),
        (130, "clear"),
    ];
    for (depth, wanted) in rows {
        check_row(depth, wanted, second_probe);
    }
    assert_eq!(word(&answer(&second_probe(Observation::Free))), "clear");
    let why = |observed| match answer(&second_probe(observed)) {
        Answer::Blocked { why, .. } => why,
        other => panic!("{other:?}"),
    };
    assert_eq!(why(at("5/8 in")), "second-probe is 5/8 in: the wall is too thick");
    assert_eq!(why(at("1 in")), "second-probe is 1 in: freight is close to the liner");
}

/// TRADE §2, plate: the only probe, 1/2 in between no and yes.
#[test]
fn plate_probe() {
    let rows = [
        (0, "blocked"),
        (16, "blocked"),
        (29, "blocked"),
        (30, "not decidable"), // blocked goes only as far as the reading cannot be a clear one; 15/32 may be 1/2
        (32, "not decidable"),
        (33, "not decidable"),
        (34, "clear"), // 17/32
        (64, "clear"),
    ];
    for (depth, wanted) in rows {
        check_row(depth, wanted, |observed| first_probe("plate", observed));
    }
}

/// TRADE §2: the saw and every later drill go no deeper than 3/4 in, on both walls.
#[test]
fn a_clear_loaded_wall_limits_saw_and_drills() {
    for wall in WALLS {
        let Answer::Clear { limits, .. } = answer(&first_probe(wall, Observation::Free)) else {
            panic!("free on {wall} is clear");
        };
        let [saw, drills] = &limits[..] else {
            panic!("{limits:?}");
        };
        assert!(saw.contains("3/4 in") && saw.contains("saw-limited"), "{saw}");
        assert!(
            drills.contains("3/4 in") && drills.contains("rivet-drill-limited"),
            "{drills}"
        );
    }
}

/// TRADE §2: an empty trailer is clear once its thickness is known; over 3/4 in asks for the inner cut.
#[test]
fn empty_is_clear_and_a_thick_wall_asks_for_the_inner_cut() {
    let empty = |wall: &str, thickness: Option<&str>| {
        let situation = Situation {
            wall: Some(wall.into()),
            load: Some("empty".into()),
            thickness: thickness.map(m),
            ..Situation::default()
        };
        match answer(&situation) {
            Answer::Clear { limits, .. } => limits.join("; "),
            other => word(&other),
        }
    };
    for wall in WALLS {
        assert_eq!(empty(wall, Some("3/4 in")), "");
        assert!(empty(wall, Some("19.06 mm")).contains("inner-cut-offset"));
        assert_eq!(empty(wall, None), "unknown thickness");
    }
}

type Change = fn(&mut Situation);

#[test]
fn nothing_is_answered_before_wall_load_and_freight_are_known() {
    let full = || first_probe("sheet-and-post", Observation::Free);
    let cases: [(&str, Change); 8] = [
        ("unknown wall", |s| s.wall = None),
        ("unknown load", |s| s.load = None),
        ("unknown wall load", |s| (s.wall, s.load) = (None, None)),
        ("unknown wall", |s| s.wall = Some("curtain".into())),
        // A probe that ran free has found the thickness, whatever somebody wrote of it that cannot be read.
        ("clear", |s| s.thickness = None),
        ("clear", |s| s.thickness = Some(m("19"))),
        ("unknown freight-at-opening", |s| s.freight_at_opening = None),
        ("unknown freight-at-opening", |s| {
            (s.thickness, s.freight_at_opening) = (Some(m("0 in")), None)
        }),
    ];
    for (wanted, change) in cases {
        let mut situation = full();
        change(&mut situation);
        assert_eq!(word(&answer(&situation)), wanted);
    }
    let mut plate = first_probe("plate", Observation::Free);
    plate.thickness = None;
    assert!(answer(&plate).is_clear(), "plate asks for no thickness");
    plate.freight_at_opening = None;
    assert_eq!(word(&answer(&plate)), "unknown freight-at-opening");
}

#[test]
fn freight_at_the_opening_and_a_thick_wall_block() {
    let mut freight = loaded("sheet-and-post", Vec::new());
    freight.freight_at_opening = Some(true);
    let wanted = Answer::Blocked {
        why: "freight stands at the opening".into(),
        make_good: vec!["stand the job down and say why".into()],
    };
    assert_eq!(answer(&freight), wanted);
    let mut thick = loaded("sheet-and-post", Vec::new());
    for (thickness, wanted) in [
        ("5/8 in", "next pilot-hole"),
        ("45/64 in", "next pilot-hole"),
        ("46/64 in", "not decidable"), // 23/32: its upper end is 3/4
        ("3/4 in", "not decidable"),
        ("19.05 mm", "not decidable"),
        ("49/64 in", "not decidable"),
        ("25/32 in", "blocked"), // its lower end is 3/4, which is not under 3/4
        ("1 in", "blocked"),
    ] {
        thick.thickness = Some(m(thickness));
        assert_eq!(word(&answer(&thick)), wanted, "{thickness}");
    }
    let mut plate = first_probe("plate", Observation::Free);
    plate.freight_at_opening = Some(true);
    assert_eq!(word(&answer(&plate)), "blocked", "whatever a probe says");
}

/// The whole way through a deepened pilot: each answer asks for the next fact.
#[test]
fn the_answers_lead_through_the_readings() {
    let steps = [
        (reading("pilot-hole", Observation::Seen(true)), "next first-probe"),
        (reading("first-probe", at("3/8 in")), "next pilot-depth"),
        (reading("pilot-depth", at("5/8 in")), "next second-probe"),
        (reading("second-probe", Observation::Free), "next second-hole-entered"),
        (reading("second-hole-entered", Observation::Seen(true)), "clear"),
    ];
    let mut situation = loaded("sheet-and-post", Vec::new());
    assert_eq!(word(&answer(&situation)), "next pilot-hole");
    for (reading, wanted) in steps {
        situation.readings.push(reading);
        assert_eq!(word(&answer(&situation)), wanted);
    }
    // A second probe without a word about the deepened pilot is not enough.
    situation.readings.retain(|r| r.check != "pilot-depth");
    assert_eq!(word(&answer(&situation)), "next pilot-depth");
    situation.readings.push(reading("pilot-depth", at("1/2 in")));
    assert_eq!(word(&answer(&situation)), "not decidable");
}

#[test]
fn each_next_reading_brings_its_cautions() {
    let Answer::Next { check, how, cautions } = answer(&loaded("plate", Vec::new())) else {
        panic!("the pilot hole comes first");
    };
    assert_eq!(check, "pilot-hole");
    assert!(how.contains("1/2 in deep") && how.contains("drill stop"), "{how}");
    assert!(cautions.iter().any(|c| c.contains("29 CFR 1910.133")), "{cautions:?}");
    assert!(cautions.last().unwrap().contains("licensed practice"));
}

#[test]
fn what_is_to_be_made_good_follows_the_pilot_hole() {
    let make_good = |situation: &Situation| match answer(situation) {
        Answer::Blocked { make_good, .. } => make_good.len(),
        other => panic!("{other:?}"),
    };
    let mut situation = first_probe("plate", at("1/8 in"));
    assert_eq!(make_good(&situation), 2, "seal, stand down");
    situation
        .readings
        .push(reading("pilot-sealed", Observation::Seen(false)));
    assert_eq!(make_good(&situation), 2);
    situation
        .readings
        .push(reading("pilot-sealed", Observation::Seen(true)));
    assert_eq!(make_good(&situation), 1);
    assert!(!situation.has_open_pilot(&Standard::built_in()));
    situation.readings.push(reading("first-probe", at("1/8 in")));
    assert_eq!(make_good(&situation), 2, "a probe shows that there is a hole again");
}

#[test]
fn readings_of_one_hole_add_up() {
    let mut situation = first_probe("sheet-and-post", at("1 in"));
    situation.readings.push(reading("first-probe", Observation::Free));
    assert_eq!(
        word(&answer(&situation)),
        "blocked",
        "nobody probes until the answer pleases"
    );
    let unreadable = || Observation::Unreadable("has no depth with a unit".into());
    let mut retyped = first_probe("plate", unreadable());
    assert_eq!(word(&answer(&retyped)), "not decidable");
    retyped.readings.push(reading("first-probe", at("1 in")));
    assert_eq!(word(&answer(&retyped)), "clear");
    retyped.readings.push(reading("first-probe", unreadable()));
    assert_eq!(word(&answer(&retyped)), "not decidable", "the last word was unreadable");
}

#[test]
fn a_doubted_reading_is_replaced_unless_it_blocks() {
    let doubted = |depth: &str| Observation::At {
        depth: m(depth),
        uncertainty: None,
        doubted: true,
    };
    for (depth, wanted) in [("1 in", "clear"), ("1/2 in", "clear"), ("1/4 in", "blocked")] {
        let mut situation = first_probe("plate", doubted(depth));
        situation.readings.push(reading("first-probe", Observation::Free));
        assert_eq!(word(&answer(&situation)), wanted, "{depth} in doubt, then free");
    }
}

/// The shape that scripts see (`gladhand clearance --json`).
#[test]
fn answers_are_written_with_their_word() {
    let json = |answer: &Answer| serde_json::to_string(answer).unwrap();
    let unknown = answer(&Situation::default());
    assert_eq!(json(&unknown), r#"{"answer":"unknown","missing":["wall","load"]}"#);
    let blocked = json(&answer(&first_probe("plate", at("1/4 in"))));
    assert!(
        blocked.starts_with(r#"{"answer":"blocked","why":"first-probe is 1/4 in: freight is too close""#),
        "{blocked}"
    );
    assert!(blocked.contains(r#""make_good":["seal the pilot hole"#), "{blocked}");
    let undecided = json(&answer(&first_probe("plate", at("1/2 in"))));
    assert!(undecided.starts_with(r#"{"answer":"not-decidable","#), "{undecided}");
}
