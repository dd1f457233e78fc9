//! Judging saves work where the findings cannot depend on it. Whatever happens in a yard, that must not show.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod common;

use common::days::{any_day, play};
use common::{Yard, story, world};
use gladhand_reconcile::judge::{candidates, judge_subject_at_length};
use gladhand_reconcile::{Class, Finding, judge_subject};
use proptest::prelude::*;

/// What is found with the shortcuts and at length, and on how many subjects something was put right.
fn both_ways(yard: &Yard) -> [String; 2] {
    let (facts, clocks) = (yard.memory(yard.facts.clone()), yard.clocks());
    let world = world(&facts, &clocks);
    let subjects: Vec<_> = Class::ALL
        .into_iter()
        .flat_map(|class| candidates(&world, class))
        .collect();
    let short: Vec<Finding> = subjects.iter().flat_map(|s| judge_subject(&world, s)).collect();
    let long: Vec<Finding> = subjects
        .iter()
        .flat_map(|s| judge_subject_at_length(&world, s))
        .collect();
    [short, long].map(|found| serde_json::to_string(&found).unwrap())
}

#[test]
fn shortcuts_do_not_show_in_any_story() {
    let mut put_right = 0;
    story::play_all(|chapter| {
        let [short, long] = both_ways(chapter.yard);
        assert_eq!(short, long, "{}", chapter.name);
        put_right += long.matches(r#""put_right":{"#).count();
    });
    assert!(
        put_right > 20,
        "only {put_right} findings that are judged by what stood in view"
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn shortcuts_do_not_show(steps in any_day(80), depot_is_known in any::<bool>()) {
        let mut yard = play(&steps);
        yard.depot_is_known = depot_is_known;
        let [short, long] = both_ways(&yard);
        prop_assert_eq!(short, long);
    }
}
