use super::*;
use crate::requirement::{LOADS, WALLS};

fn names(list: &[&Requirement]) -> Vec<String> {
    list.iter().map(|r| r.name().to_owned()).collect()
}

/// TRADE §1 and §3 are required of every trailer; the readings of §2, and limited saws and drills, only of a loaded one.
#[test]
fn the_built_in_standard_requires_what_the_trade_asks_for() {
    let standard = Standard::built_in();
    let everywhere = names(&standard.required(None, None));
    assert_eq!(
        everywhere,
        [
            "tracker-reporting",
            "kit-complete",
            "side",
            "lock-rods-checked",
            "placement-top",
            "placement-rear",
            "post-distance",
            "clear-of-markings",
            "hole-diameter",
            "deburred",
            "surface-prepared",
            "primer-wait",
            "bracket-aligned",
            "tape-pieces",
            "rivet-count",
            "camera-screws",
            "lens-untouched",
            "label-moved",
            "doors-closed",
        ]
    );
    let more = |wall, load| -> Vec<String> {
        let list = names(&standard.required(Some(wall), Some(load)));
        list.into_iter().filter(|n| !everywhere.contains(n)).collect()
    };
    let wanted = [
        "freight-at-opening",
        "pilot-hole",
        "first-probe",
        "saw-limited",
        "rivet-drill-limited",
    ];
    for wall in WALLS {
        assert_eq!(more(wall, "loaded"), wanted);
        // On a loaded trailer the probes find the thickness.
        assert_eq!(more(wall, "empty"), ["thickness"]);
    }
}

#[test]
fn the_inner_cut_is_required_only_of_a_thick_wall() {
    let standard = Standard::built_in();
    let asks = |thick: &str| {
        let thick = Measure::parse(thick).unwrap();
        let list = standard.required_for(Visit {
            wall: Some("plate"),
            load: Some("empty"),
            thickness: Some(&thick),
            ..Visit::default()
        });
        names(&list).contains(&"inner-cut-offset".to_owned())
    };
    assert!(!asks("3/4 in") && !asks("19.05 mm"));
    assert!(asks("49/64 in") && asks("19.06 mm"));
}

fn required_of(purpose: &str, load: &str) -> Vec<String> {
    let standard = Standard::built_in();
    let visit = Visit {
        purpose: Some(purpose),
        wall: Some("sheet-and-post"),
        load: Some(load),
        thickness: None,
    };
    names(&standard.required_for(visit))
}

/// TRADE §3: each purpose has its own checks; a fit has all of §1 to §3.
#[test]
fn each_purpose_wants_its_own_checks() {
    for load in LOADS {
        assert_eq!(required_of("take-off", load), ["hole-closed"]);
        assert_eq!(required_of("prove", load), ["doors-closed"]);
        let replaced = [
            "tracker-reporting",
            "kit-complete",
            "camera-screws",
            "lens-untouched",
            "label-moved",
            "doors-closed",
        ];
        assert_eq!(required_of("replace", load), replaced);
        // What nobody knows is a fit.
        assert_eq!(required_of("inspect", load), required_of("fit", load));
        assert!(required_of("fit", load).len() > replaced.len());
        assert!(!required_of("fit", load).contains(&"hole-closed".to_owned()));
    }
}

#[test]
fn proof_and_clock_are_the_default_ones() {
    let standard = Standard::built_in();
    assert_eq!(
        standard.proof_answers(),
        ["front-wall-seen", "door-frame-seen", "no-jagged-edge", "lens-clear"]
    );
    let clock = standard.clock();
    assert_eq!((clock.off_us, clock.drift_ppm), (120_000_000, 100));
    // 100 ppm is 8.64 s a day (TRADE §6).
    assert_eq!(i64::from(clock.drift_ppm) * 86_400, 8_640_000);
    assert_eq!(
        (standard.retention().months, standard.retention().months_after_leaving),
        (12, 6)
    );
}
