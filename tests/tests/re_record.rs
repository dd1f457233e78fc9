//! A hole in a journal that nobody can fill: what the device had written behind it, and what it writes from then on, reaches
//! the others all the same. Found by the fleet simulator; before, everybody refused all of it for ever.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::collections::BTreeSet;
use std::sync::atomic::AtomicI64;
use std::sync::{Arc, Mutex};

use gladhand_facts::{Fact, FactId};
use gladhand_node::config::Role;
use gladhand_tests::SeededRng;
use gladhand_tests::facts::{fitting, notes};
use gladhand_tests::sim::device::{Around, Device};
use gladhand_tests::sim::folder;
use gladhand_tests::sim::judges::{all_facts, wrong_since_start};
use gladhand_tests::sim::network::exchange;

fn record(device: &mut Device, lines: &[String]) -> Vec<FactId> {
    let key = device.key;
    let facts = lines.iter().map(|line| Fact::from_line(&key, line).unwrap()).collect();
    let receipts = device.open().unwrap().record(facts).unwrap();
    receipts.iter().map(|r| r.fact.id()).collect()
}

fn held(device: &mut Device) -> BTreeSet<FactId> {
    all_facts(device.open().unwrap()).into_values().flatten().collect()
}

#[test]
fn what_stands_behind_a_hole_that_nobody_can_fill_is_said_again() {
    let dir = folder();
    let around = Around {
        true_us: Arc::new(AtomicI64::new(1_772_438_400_000_000)),
        rng: Arc::new(Mutex::new(SeededRng::quiet(7))),
    };
    let mut depot = Device::create(dir.path().join("depot"), "harrow-street", Role::Depot, &around);
    let mut first = Device::create(dir.path().join("mara"), "mara", Role::Laptop, &around);
    let invite = depot.open().unwrap().invite("mara", 86_400).unwrap().to_line();
    first.open().unwrap().join(&invite).unwrap();
    assert!(
        exchange(first.open().unwrap(), depot.open().unwrap())
            .unwrap()
            .is_empty()
    );
    // Recorded once, met by nobody, and lost below.
    first.close();
    let segment = first.segments()[0].clone();
    let hole = first.memory.bytes(&segment).unwrap().len() + 40;
    let lost = record(&mut first, &notes(1, "before the move", true));
    first.close();
    // On another disk the home begins another log, which has seen that.
    let mut mara = first.copied(dir.path().join("moved"), "mara");
    let behind = record(&mut mara, &fitting("0302-H1", "LF 5301", "LC-LT91Z9J", "LT500411541"));
    mara.close();
    let segment = mara.segments()[0].clone();
    let mut bytes = mara.memory.bytes(&segment).unwrap();
    // One wrong bit would be put right.
    bytes[hole..hole + 3].iter_mut().for_each(|byte| *byte ^= 0x5a);
    mara.memory.put(&segment, Some(bytes));
    assert!(!mara.open().unwrap().damage().is_empty());
    assert!(mara.open().unwrap().book().causal_gaps().next().is_some());
    let after = record(&mut mara, &notes(2, "after the damage", true));
    for _ in 0..2 {
        let refused = exchange(mara.open().unwrap(), depot.open().unwrap()).unwrap();
        assert_eq!(refused, Vec::<String>::new());
    }
    let there = held(&mut depot);
    for fact in behind.iter().chain(&after) {
        assert!(there.contains(fact), "a fact with a receipt did not arrive");
    }
    assert!(!lost.iter().any(|fact| there.contains(fact)), "the one that nobody has");
    // Once is enough, and the next contact has nothing to do.
    let entries = mara.open().unwrap().book().vector().entries();
    exchange(mara.open().unwrap(), depot.open().unwrap()).unwrap();
    assert_eq!(mara.open().unwrap().book().vector().entries(), entries);
    assert_eq!(wrong_since_start(mara.open().unwrap()), Vec::<String>::new());
    // Whoever starts again knows that it was said.
    mara.close();
    exchange(mara.open().unwrap(), depot.open().unwrap()).unwrap();
    assert_eq!(mara.open().unwrap().book().vector().entries(), entries);
}
