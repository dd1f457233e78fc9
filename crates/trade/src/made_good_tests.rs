use gladhand_facts::Measure;

use crate::band::Side;
use crate::requirement::Visit;
use crate::standard::Standard;

/// Whether `other` makes good the value of `check` on a wall of that thickness.
fn fits(check: &str, other: &str, value: &str, side: Side, thick: Option<&str>) -> bool {
    let standard = Standard::built_in();
    let thick = thick.map(|t| Measure::parse(t).unwrap());
    let visit = Visit {
        thickness: thick.as_ref(),
        ..Visit::default()
    };
    let value = Measure::parse(value).unwrap();
    let all = standard.check(check).unwrap().made_good_by();
    all.iter().any(|m| m.check() == other && m.fits(&value, side, visit))
}

/// TRADE §1: nearer than 12 in to the post only where the wall is over 3/4 in, with the bare post covered.
#[test]
fn a_covered_post_counts_only_behind_a_thick_wall() {
    let covered = |thick| fits("post-distance", "post-covered", "8 in", Side::Under, thick);
    assert!(covered(Some("49/64 in")) && covered(Some("20 mm")));
    assert!(!covered(Some("3/4 in")) && !covered(Some("1/2 in")) && !covered(None));
    assert!(!fits(
        "post-distance",
        "post-covered",
        "40 in",
        Side::Over,
        Some("1 in")
    ));
}

/// TRADE §1: further forward where the lock rods would strike, up to 30 in; beyond that the office.
#[test]
fn lock_rods_count_only_within_the_zone() {
    let struck = |value, side| fits("placement-rear", "lock-rods-would-strike", value, side, None);
    assert!(struck("13 in", Side::Over) && struck("30 in", Side::Over) && struck("762 mm", Side::Over));
    assert!(!struck("30 1/16 in", Side::Over) && !struck("6 in", Side::Under));
}
