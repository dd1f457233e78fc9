//! Small random yards: whatever happens in them, the order of arrival must not show, judging fact by fact must
//! give what judging everything gives.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod common;

use std::sync::Arc;

use common::days::{any_day, play};
use common::{Dice, Yard, world};
use gladhand_facts::{Kind, VersionVector};
use gladhand_reconcile::timeline::Detail;
use gladhand_reconcile::{
    Clocks, Facts, Filter, Ledger, MemoryFacts, RecordedFact, Report, Standing, judge_all, timeline,
};
use proptest::prelude::*;

fn json(facts: &dyn Facts) -> String {
    let clocks = Clocks::unmeasured();
    serde_json::to_string(&judge_all(&world(facts, &clocks))).unwrap()
}

/// Judges in portions of random size, as exchanges bring them.
fn in_portions(yard: &Yard, order: Vec<RecordedFact>, dice: &mut Dice) -> String {
    let clocks = Clocks::unmeasured();
    let mut facts: MemoryFacts = yard.memory([]);
    let mut ledger = Ledger::default();
    for fork in &yard.forks {
        ledger.absorb_fork(&world(&facts, &clocks), fork.log.device);
    }
    let mut rest = order.into_iter().map(Arc::new).peekable();
    while rest.peek().is_some() {
        let size = 1 + dice.roll(4);
        let news: Vec<_> = rest.by_ref().take(size).collect();
        news.iter().for_each(|w| facts.insert(w.clone()));
        ledger.absorb(&world(&facts, &clocks), &news);
    }
    assert_eq!(ledger, Ledger::rebuild(&world(&facts, &clocks)));
    serde_json::to_string(&ledger.findings()).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_order_of_arrival_does_not_show(steps in any_day(40), seed in 1u64..) {
        let yard = play(&steps);
        let mut dice = Dice(seed);
        let wanted = json(&yard.memory(yard.facts.clone()));
        let mut shuffled = yard.facts.clone();
        dice.shuffle(&mut shuffled);
        prop_assert_eq!(&json(&yard.memory(shuffled.clone())), &wanted);
        let causal = common::causal_order(&yard.facts, &mut dice);
        prop_assert_eq!(&in_portions(&yard, causal, &mut dice), &wanted);
        // Even an order in which nothing can really arrive.
        prop_assert_eq!(&in_portions(&yard, shuffled, &mut dice), &wanted);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    /// CONTRACT §4, read once more from the facts that a finding names: `aware` is claimed of nobody who had not seen the
    /// other's fact, `unaware` only where there are two who had not seen each other's.
    #[test]
    fn a_standing_is_what_was_seen(steps in any_day(60)) {
        let yard = play(&steps);
        let (facts, clocks) = (yard.memory(yard.facts.clone()), Clocks::unmeasured());
        for finding in judge_all(&world(&facts, &clocks)) {
            let made_of: Vec<&RecordedFact> = yard.facts.iter().filter(|w| finding.facts.contains(&w.fact.id())).collect();
            let pairs = || made_of.iter().flat_map(|a| made_of.iter().map(move |b| (*a, *b)));
            let ordered = pairs().any(|(a, b)| a.happens_before(b));
            let apart = pairs().any(|(a, b)| a.concurrent(b));
            // What came too late makes nothing worse and is no part of what makes a finding about a sign-off, although it clashes.
            let is_about_a_sign_off =
                made_of.iter().any(|w| w.is(&Kind::SignOff)) || finding.rule == "cut-without-clearance";
            match finding.standing {
                Standing::Aware => prop_assert!(ordered || is_about_a_sign_off, "{finding:?}"),
                Standing::Unaware => prop_assert!(apart || is_about_a_sign_off, "{finding:?}"),
                Standing::None => {}
            }
            let far = match finding.rule.as_str() {
                "camera-on-two-trackers" => "tracker",
                "tracker-with-two-cameras" => "camera",
                "fields-disagree" => {
                    prop_assert_eq!(finding.standing, Standing::Unaware);
                    continue;
                }
                _ => continue,
            };
            if finding.is_open() {
                let knew = |(a, b): (&RecordedFact, &RecordedFact)| a.key(far) != b.key(far) && a.happens_before(b);
                prop_assert_eq!(finding.standing, Standing::of(pairs().any(knew)), "{:?}", finding);
            }
        }
    }

    #[test]
    fn a_history_respects_what_was_seen(steps in any_day(40), seed in 1u64..) {
        let yard = play(&steps);
        let facts = yard.memory(yard.facts.clone());
        let mut shuffled: Vec<Arc<RecordedFact>> = yard.facts.iter().cloned().map(Arc::new).collect();
        Dice(seed).shuffle(&mut shuffled);
        let lines = timeline(&facts, &yard.names(), &Clocks::unmeasured(), &shuffled, Detail::Full);
        prop_assert_eq!(lines.len(), yard.facts.len());
        let find = |id| yard.facts.iter().find(|w| w.fact.id() == id).unwrap();
        for (i, line) in lines.iter().enumerate() {
            let this = find(line.id);
            for later in &lines[i + 1..] {
                prop_assert!(!find(later.id).happens_before(this));
            }
            let concurrent: Vec<_> = lines.iter().map(|l| find(l.id)).filter(|w| w.concurrent(this)).map(|w| w.fact.id()).collect();
            prop_assert_eq!(line.concurrent, concurrent.len());
            let mut named = line.concurrent_with.clone().unwrap();
            named.sort();
            let mut wanted = concurrent;
            wanted.sort();
            prop_assert_eq!(named, wanted);
            let seen = lines.iter().map(|l| find(l.id)).filter(|w| w.happens_before(this));
            let latest_us = seen.map(|w| w.at().unix_us()).max();
            let earlier_us = latest_us.map(|us| us - this.at().unix_us()).filter(|us| *us > 0);
            let told = line.against_clock.as_ref();
            prop_assert_eq!(told.map(|t| t.earlier_us), earlier_us.map(|us| us as u64));
            if let Some(told) = told {
                prop_assert!(find(told.id).happens_before(this));
                prop_assert_eq!(Some(find(told.id).at().unix_us()), latest_us);
            }
        }
    }

    #[test]
    fn a_report_is_the_same_everywhere(steps in any_day(40), seed in 1u64..) {
        let yard = play(&steps);
        let clocks = Clocks::unmeasured();
        let report = |order: Vec<RecordedFact>| {
            let facts = yard.memory(order);
            let world = world(&facts, &clocks);
            let report = Report::make(&world, &yard.names(), &judge_all(&world), &Filter::default(), &VersionVector::new());
            serde_json::to_string(&report).unwrap()
        };
        let mut shuffled = yard.facts.clone();
        Dice(seed).shuffle(&mut shuffled);
        prop_assert_eq!(report(yard.facts.clone()), report(shuffled));
    }
}
