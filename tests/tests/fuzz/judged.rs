//! What the reconciler makes of any facts at all: no panic, words for each finding, and the same answer in whatever order
//! they come.

use std::sync::{Arc, OnceLock};

use gladhand_facts::{DeviceKey, Fact, LogId, Place, Stamp, VersionVector};
use gladhand_reconcile::timeline::Detail;
use gladhand_reconcile::{
    ClockReading, Clocks, DeviceNames, Filter, MemoryFacts, RecordedFact, Report, World, clearance, describe,
    judge_all, timeline,
};
use gladhand_trade::Standard;

/// More would only take longer.
const MOST_FACTS: usize = 40;
/// 2026-03-02T21:00:00Z.
const EVENING_US: i64 = 1_772_485_200_000_000;

pub fn standard() -> &'static Standard {
    static STANDARD: OnceLock<Standard> = OnceLock::new();
    STANDARD.get_or_init(Standard::built_in)
}

fn log(n: u8) -> LogId {
    LogId {
        device: DeviceKey([n; 32]),
        incarnation: 1,
    }
}

/// Two devices record in turn; now and then one has seen what the other had.
fn recorded_facts(facts: &[Fact]) -> Vec<RecordedFact> {
    let mut seen = [VersionVector::new(), VersionVector::new()];
    let mut seqs = [0, 0];
    let mut made = Vec::new();
    for (i, fact) in facts.iter().take(MOST_FACTS).enumerate() {
        let (own, other) = if i % 3 == 0 { (1, 0) } else { (0, 1) };
        seqs[own] += 1;
        if i % 7 == 6 {
            seen[own].advance(log(other as u8), seqs[other]);
        }
        made.push(RecordedFact {
            fact: fact.clone(),
            place: Place {
                log: log(own as u8),
                seq: seqs[own],
                index: 0,
            },
            stamp: Stamp {
                wall_us: EVENING_US + i as i64 * 60_000_000,
                counter: 0,
            },
            seen: Arc::new(seen[own].clone()),
        });
    }
    made
}

fn readings() -> Vec<ClockReading> {
    [(0, i64::MAX / 2), (1, -5_000_000)]
        .map(|(n, offset_us)| ClockReading {
            device: DeviceKey([n; 32]),
            peer: DeviceKey([9; 32]),
            at_us: EVENING_US,
            offset_us,
            delay_us: 40_000,
            place: Place {
                log: log(n),
                seq: 1,
                index: 0,
            },
        })
        .to_vec()
}

fn answer(facts: &MemoryFacts, clocks: &Clocks, vector: &VersionVector) -> String {
    let world = World {
        facts,
        standard: standard(),
        clocks,
    };
    let findings = judge_all(&world);
    let names = DeviceNames::default();
    for finding in &findings {
        let told = describe(finding, &names);
        assert!(!told.says.is_empty() && !told.next.is_empty(), "{finding:?}");
    }
    let report = Report::make(&world, &names, &findings, &Filter::default(), vector);
    serde_json::to_string(&(findings, report)).unwrap()
}

/// The law of the whole: equal facts, equal answers, byte for byte.
pub fn holds(facts: &[Fact]) {
    let made = recorded_facts(facts);
    let (forward, backward) = (
        MemoryFacts::new(made.clone()),
        MemoryFacts::new(made.iter().rev().cloned()),
    );
    let mut vector = VersionVector::new();
    made.iter().for_each(|w| vector.advance(w.place.log, w.place.seq));
    let measured = Clocks::measured(DeviceKey([9; 32]), standard().clock(), readings());
    for clocks in [Clocks::unmeasured(), measured] {
        assert_eq!(answer(&forward, &clocks, &vector), answer(&backward, &clocks, &vector));
    }
    let shared: Vec<Arc<RecordedFact>> = made.into_iter().map(Arc::new).collect();
    let clocks = Clocks::unmeasured();
    let names = DeviceNames::default();
    let full = timeline(&forward, &names, &clocks, &shared, Detail::Full);
    assert_eq!(full.len(), shared.len());
    assert_eq!(
        timeline(&forward, &names, &clocks, &shared, Detail::Counts).len(),
        shared.len()
    );
    let world = World {
        facts: &forward,
        standard: standard(),
        clocks: &clocks,
    };
    let _ = clearance(&world, &shared);
}
