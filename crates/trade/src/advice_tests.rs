use crate::requirement::{LOADS, Visit, WALLS};
use crate::standard::{BUILT_IN, Standard};
use gladhand_facts::Measure;

fn looked_up(hint: &str, measure: &str) -> Option<String> {
    let standard = Standard::built_in();
    let hint = standard.hint(hint).unwrap();
    hint.look_up(&Measure::parse(measure).unwrap()).map(str::to_owned)
}

/// Army TM 10-5410-223-24, table 2-3 (as listed in TRADE §3): .020–.125 takes 62, .126–.250 takes 64, .251–.375 takes 66, .376–.500 takes 68.
#[test]
fn the_grip_follows_the_table_and_nothing_is_guessed_between_its_rows() {
    for (thickness, grip) in [
        ("0.019 in", None),
        ("0.020 in", Some("62")),
        ("1/8 in", Some("62")),
        ("0.126 in", Some("64")),
        ("0.250 in", Some("64")),
        ("0.2505 in", None),
        ("0.251 in", Some("66")),
        ("0.375 in", Some("66")),
        ("3/8 in", Some("66")),
        ("0.3755 in", None),
        ("0.376 in", Some("68")),
        ("12.7 mm", Some("68")),
        ("0.501 in", None),
    ] {
        assert_eq!(looked_up("rivet-grip", thickness).as_deref(), grip, "{thickness}");
    }
}

/// Drill no. 11 measures 0.1910 in, below the range it is listed for: the hint says to look it up.
#[test]
fn the_listed_drill_lies_outside_its_own_range() {
    assert_eq!(looked_up("rivet-hole", "0.1910 in"), None);
    assert!(looked_up("rivet-hole", "0.192 in").is_some());
    let standard = Standard::built_in();
    let hint = standard.hint("rivet-hole").unwrap();
    assert!(hint.says().contains("look the drill up") && hint.source().contains("table 2-3"));
}

/// FAA AC 43.13-1B, table 7-1 (as listed in TRADE §3): 20–25 in·lbf; 1 lbf·in = 0.1129848 N·m.
#[test]
fn torque_is_looked_up_in_either_unit() {
    for (torque, inside) in [
        ("20 in·lbf", true),
        ("25 lbf-in", true),
        ("2.5 N·m", true),
        ("2.9 N·m", false),
        ("19 in·lbf", false),
    ] {
        assert_eq!(looked_up("screw-torque", torque).is_some(), inside, "{torque}");
    }
}

#[test]
fn tape_holds_more_with_time() {
    let rows = [
        ("19 min", None),
        ("20 min", Some("about 50 %")),
        ("1440 min", Some("about 90 %")),
        ("72 h", Some("100 %")),
    ];
    for (time, strength) in rows {
        assert_eq!(looked_up("tape-strength", time).as_deref(), strength, "{time}");
    }
    assert_eq!(looked_up("tape-strength", "3 in"), None);
}

/// TRADE §4: each caution stands before its steps, and each list ends with the same deference, even an empty one.
#[test]
fn every_list_of_cautions_ends_with_the_deference() {
    let standard = Standard::built_in();
    let has = |step: &str, words: &str| standard.cautions(step).iter().any(|c| c.contains(words));
    for (step, words) in [
        ("drill", "eye protection (29 CFR 1910.133)"),
        ("cut", "29 CFR 1910.133"),
        ("rivet", "29 CFR 1910.133"),
        ("ladder", "three points of contact (29 CFR 1910.23)"),
        ("rivet", "1910.242"),
        ("arrive", "rolling"),
        ("clean", "flammable"),
        ("prime", "no sparks"),
        ("drill", "Freight"),
        ("deburr", "gloves"),
    ] {
        assert!(has(step, words), "{step}: {:?}", standard.cautions(step));
    }
    let steps = standard.checks().iter().filter_map(|c| c.step());
    for step in steps.chain(["no such step"]) {
        let last = standard.cautions(step).pop().unwrap();
        for word in ["Site rules", "local codes", "licensed practice"] {
            assert!(last.contains(word), "{step}: {last}");
        }
    }
}

#[test]
fn the_kit_follows_wall_and_load() {
    let standard = Standard::built_in();
    let kit = |wall, load| {
        let list = standard.kit(Visit {
            wall,
            load,
            ..Visit::default()
        });
        list.iter()
            .map(|k| format!("{} {}", k.count(), k.item()))
            .collect::<Vec<_>>()
            .join("; ")
    };
    for (wall, load) in WALLS.iter().flat_map(|w| LOADS.map(|l| (Some(*w), Some(l)))) {
        let kit = kit(wall, load);
        assert_eq!(kit.contains("drill stop"), load == Some("loaded"), "{kit}");
        assert_eq!(
            kit.contains("1/8 in probe"),
            wall == Some("sheet-and-post") && load == Some("loaded")
        );
        assert_eq!(
            kit.contains("1/4 in probe"),
            wall == Some("plate") && load == Some("loaded")
        );
        assert!(kit.contains("4 mounting tape") && kit.contains("8 3/16 in rivets"));
    }
    assert!(
        !kit(None, None).contains("probe"),
        "what is not known brings nothing special"
    );
}

#[test]
fn the_kit_follows_the_purpose() {
    let standard = Standard::built_in();
    let has = |purpose, words: &str| {
        let list = standard.kit(Visit {
            purpose: Some(purpose),
            load: Some("loaded"),
            ..Visit::default()
        });
        list.iter().any(|k| k.item().contains(words))
    };
    assert!(has("fit", "hole saw") && has("fit", "drill stop"));
    for purpose in ["replace", "take-off", "prove"] {
        assert!(!has(purpose, "hole saw") && !has(purpose, "drill stop"), "{purpose}");
    }
    assert!(has("replace", "camera, as assigned") && !has("take-off", "camera, as assigned"));
    assert!(has("take-off", "against water") && !has("fit", "against water"));
}

/// Hints stand before the step, so they say their numbers themselves.
#[test]
fn hints_say_their_numbers() {
    let standard = Standard::built_in();
    for (hint, numbers) in [
        ("place", &["1 in", "12 in", "30 in"][..]),
        ("hole", &["1 3/4 in", "44.45 mm", "3/4 in", "10 in"]),
        ("primer", &["3 min"]),
        ("rivet-hole", &["0.192", "0.196", "0.1910"]),
        ("rivet-grip", &["62", "64", "66", "68", "0.376 to 0.500 in"]),
        ("screw-torque", &["20 to 25 in·lbf", "2.26 to 2.82 N·m"]),
        ("tape-strength", &["50 %", "90 %", "72 h"]),
    ] {
        let says = standard.hint(hint).unwrap().says();
        assert!(numbers.iter().all(|n| says.contains(n)), "{hint}: {says}");
    }
}

/// 1 lbf·in = 0.1129848 N·m (TRADE §3), so 20 and 25 in·lbf are 2.26 and 2.82 N·m.
#[test]
fn the_torque_in_newton_metres_is_the_same() {
    let hundredths =
        |text| (Measure::parse(text).unwrap().base() * gladhand_facts::measure::Exact::from_integer(100)).round();
    assert_eq!(hundredths("20 in·lbf"), hundredths("2.26 N·m"));
    assert_eq!(hundredths("25 in·lbf"), hundredths("2.82 N·m"));
}

#[test]
fn the_example_names_the_office_and_the_reasons() {
    let standard = Standard::built_in();
    assert!(standard.is_example());
    assert_eq!(
        standard.office().unwrap().to_string(),
        "the office that sent you; this work standard gives no number"
    );
    let own = BUILT_IN.replace("example = true\n", "").replace(
        "name = \"the office that sent you\"",
        "name = \"Larkspur Freight, Harrow Street depot\"\nnumber = \"555 0142\"",
    );
    let own = Standard::parse(&own).unwrap();
    assert!(!own.is_example());
    assert_eq!(
        own.office().unwrap().to_string(),
        "Larkspur Freight, Harrow Street depot, 555 0142"
    );
    for reason in [
        "not-there",
        "freight-too-close",
        "part-faulty",
        "weather",
        "refused-by-site",
        "other",
    ] {
        assert!(standard.knows_reason(reason), "{reason}");
    }
    assert!(!standard.knows_reason("tired"));
    assert_eq!(standard.stand_down_reasons().len(), 10);
}

/// A standard of before may list no reasons and name no office: then every reason will do.
#[test]
fn a_standard_without_reasons_takes_any() {
    let from = BUILT_IN.find("[office]").unwrap();
    let to = from + BUILT_IN[from..].find("\n[[check]]").unwrap();
    let text = format!("{}{}", &BUILT_IN[..from], &BUILT_IN[to..]);
    let standard = Standard::parse(&text).unwrap();
    assert!(standard.office().is_none() && standard.knows_reason("tired"));
}

#[test]
fn a_caution_about_freight_is_for_trailers_that_may_hold_some() {
    let standard = Standard::built_in();
    let about_freight = |load| {
        let all = standard.cautions_for(&["cut"], load);
        all.iter().any(|caution| caution.contains("Freight"))
    };
    assert!(about_freight(Some("loaded")) && about_freight(None));
    assert!(!about_freight(Some("empty")));
    assert_eq!(
        standard.short_cautions_for(&["prime"], None),
        [
            "Cleaner and primer are flammable",
            "Site rules, local codes and licensed practice come first"
        ]
    );
    assert_eq!(standard.short_cautions_for(&["finish"], None), [""; 0]);
}
