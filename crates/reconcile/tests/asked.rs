//! Whoever keeps findings need not judge again what asked nothing of the clocks that is answered otherwise now.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod common;

use std::collections::BTreeMap;
use std::sync::Arc;

use common::days::{DEVICES, any_day, play};
use common::{Yard, story, world};
use gladhand_facts::Place;
use gladhand_reconcile::judge::candidates;
use gladhand_reconcile::{Asked, Class, RecordedFact, judge_subject, judge_subject_asked};
use proptest::prelude::*;

/// How many subjects were judged, how many of them need not be judged again once `device` has measured the depot's clock, and of how
/// many the findings change.
#[derive(Debug, Default)]
struct Counts {
    judged: usize,
    spared: usize,
    changed: usize,
}

fn after_a_reading(yard: &mut Yard, device: &str, minutes_wrong: i64, counts: &mut Counts) {
    let facts = yard.memory(yard.facts.clone());
    let by_place: BTreeMap<Place, Arc<RecordedFact>> = facts.all().map(|w| (w.place, Arc::clone(w))).collect();
    let fact = |place: &Place| by_place.get(place).cloned();
    let before = yard.clocks();
    yard.set_clock(device, minutes_wrong);
    yard.measure(device, "depot", 200);
    let after = yard.clocks();
    let subjects = Class::ALL
        .into_iter()
        .flat_map(|class| candidates(&world(&facts, &before), class));
    for subject in subjects {
        let (found, asked) = judge_subject_asked(&world(&facts, &before), &subject);
        assert_eq!(found, judge_subject(&world(&facts, &before), &subject), "{subject}");
        assert!(before.still_answers(&asked, &fact), "{subject}: {asked:?}");
        let json = serde_json::to_string(&asked).unwrap();
        assert_eq!(serde_json::from_str::<Asked>(&json).unwrap(), asked);
        let now = judge_subject(&world(&facts, &after), &subject);
        let is_spared = after.still_answers(&asked, &fact);
        if is_spared {
            assert_eq!(found, now, "{subject} asked {asked:?}");
        }
        counts.judged += 1;
        counts.spared += usize::from(is_spared);
        counts.changed += usize::from(found != now);
    }
}

#[test]
fn what_is_answered_as_before_is_found_as_before_in_every_story() {
    let mut counts = Counts::default();
    for path in story::paths() {
        // Played anew for each: a reading must not stand in the way of the next part.
        story::play(&path, |chapter| {
            for (device, minutes) in [("lap-a", 0), ("lap-b", 90)] {
                let mut yard = Yard::default();
                yard.readings = chapter.yard.readings.clone();
                yard.depot_is_known = chapter.yard.depot_is_known;
                yard.facts = chapter.yard.facts.clone();
                yard.forks = chapter.yard.forks.clone();
                yard.sights = chapter.yard.sights.clone();
                yard.trips = chapter.yard.trips.clone();
                after_a_reading(&mut yard, device, minutes, &mut counts);
            }
        });
    }
    assert!(counts.changed > 10, "{counts:?}");
    assert!(counts.spared > counts.judged / 4, "{counts:?}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_is_answered_as_before_is_found_as_before(
        steps in any_day(60), depot_is_known in any::<bool>(), device in 0usize..3, minutes in -100i64..100,
    ) {
        let mut yard = play(&steps);
        yard.depot_is_known = depot_is_known;
        after_a_reading(&mut yard, DEVICES[device], minutes, &mut Counts::default());
    }
}
