use gladhand_facts::{DeviceKey, Fact, LogId, Place, Stamp, VersionVector};
use gladhand_trade::Standard;

use super::*;
use crate::clocks::Clocks;
use crate::facts::{MemoryFacts, Sight};
use crate::names::DeviceNames;
use crate::words::teller::clause;

const MINUTE: i64 = 60_000_000;

/// An entry of a log, and what its writer had seen by then.
type Point<'a> = (LogId, Sight, &'a [(LogId, u64)]);

fn log(device: u8, incarnation: u64) -> LogId {
    LogId {
        device: DeviceKey([device; 32]),
        incarnation,
    }
}

fn link(log: LogId, seq: u64, minute: i64, seen: &[(LogId, u64)]) -> Arc<RecordedFact> {
    let line = format!(
        r#"{{"kind":"link","camera":"C1","tracker":"T{}{seq}"}}"#,
        log.device.0[0]
    );
    let mut fact = Fact::from_line(&log.device, &line).unwrap();
    fact.fill("at", gladhand_facts::Moment::from_unix_us(minute * MINUTE, 0).text());
    Arc::new(RecordedFact {
        fact,
        place: Place { log, seq, index: 0 },
        stamp: Stamp::default().tick(minute * MINUTE),
        seen: Arc::new(seen.iter().copied().collect::<VersionVector>()),
    })
}

/// What a finding would say of it.
fn told(awareness: &Awareness, sights: &[Point<'_>]) -> String {
    let mut facts = MemoryFacts::default();
    for (log, sight, seen) in sights {
        facts.note_sight(*log, *sight, Arc::new(seen.iter().copied().collect()));
    }
    let (standard, clocks) = (Standard::built_in(), Clocks::unmeasured());
    let world = World {
        facts: &facts,
        standard: &standard,
        clocks: &clocks,
    };
    let names = [(1, "lap-a"), (2, "lap-b"), (3, "lap-c")];
    let names: DeviceNames = names
        .map(|(n, name)| (DeviceKey([n; 32]), name.to_owned()))
        .into_iter()
        .collect();
    clause(&awareness.knowledge(&world), "", &names)
}

fn sight(seq: u64, minute: i64, counter: u32) -> Sight {
    let wall_us = minute * MINUTE;
    Sight {
        seq,
        stamp: Stamp { wall_us, counter },
    }
}

#[test]
fn what_was_seen_gives_the_standing() {
    let (a, b) = (log(1, 1), log(2, 1));
    let first = link(a, 1, 0, &[]);
    let blind = link(b, 1, 5, &[]);
    let knew = link(b, 2, 9, &[(a, 1)]);
    let between = |x: &Arc<RecordedFact>, y: &Arc<RecordedFact>| Awareness::of([(x, y)]);
    assert_eq!(between(&first, &blind).standing(), Standing::Unaware);
    for awareness in [between(&first, &knew), between(&knew, &first)] {
        assert_eq!(awareness.standing(), Standing::Aware);
        assert_eq!(told(&awareness, &[]), "; lap-b had the link of C1 to T11 in view");
    }
    assert_eq!(
        between(&first, &first).standing(),
        Standing::None,
        "a fact does not clash with itself"
    );
    assert_eq!(told(&Awareness::between(&[], std::slice::from_ref(&first)), &[]), "");
    assert_eq!(
        told(&between(&first, &blind), &[]),
        "; lap-a had not seen the link of C1 to T21, nor lap-b the link of C1 to T11"
    );
    // One pair in which somebody knew is enough, and the first of several in the order of places speaks.
    let both = Awareness::between(&[knew.clone(), blind.clone()], std::slice::from_ref(&first));
    assert_eq!(both.standing(), Standing::Aware);
    let all = [first.clone(), blind.clone(), knew.clone()];
    let Awareness::Seen { earlier, later } = Awareness::between(&all, &all) else {
        panic!("somebody knew");
    };
    assert_eq!((earlier.place, later.place), (first.place, knew.place));
}

/// The short way round gives what all pairs give.
#[test]
fn among_many_the_same_pair_speaks() {
    let (a, b, c) = (log(1, 1), log(2, 1), log(3, 1));
    let facts = [
        link(b, 1, 1, &[]),
        link(a, 1, 0, &[]),
        link(c, 1, 2, &[(a, 1)]),
        link(b, 2, 3, &[(a, 1)]),
        link(c, 2, 4, &[(a, 1), (b, 2)]),
    ];
    let places = |awareness: &Awareness| match awareness {
        Awareness::NoClash => None,
        Awareness::Neither(x, y) => Some((false, x.place, y.place)),
        Awareness::Seen { earlier, later } => Some((true, earlier.place, later.place)),
    };
    // Every set of the five, each with a mark that says with which others it clashes.
    for (set, marks) in (0u32..32).flat_map(|set| (0u32..32).map(move |marks| (set, marks))) {
        let chosen: Vec<_> = (0..5)
            .filter(|i| set >> i & 1 == 1)
            .map(|i| (&facts[i], marks >> i & 1))
            .collect();
        let among = Awareness::among(&chosen, |x, y| x != y);
        let pairs = chosen.iter().flat_map(|x| chosen.iter().map(move |y| (x, y)));
        let all = Awareness::of(pairs.filter(|(x, y)| x.1 != y.1).map(|(x, y)| (x.0, y.0)));
        assert_eq!(among.standing(), all.standing(), "{set:b} {marks:b}");
        if among.standing() == Standing::Aware {
            assert_eq!(places(&among), places(&all), "{set:b} {marks:b}");
        }
    }
}

#[test]
fn a_device_holds_a_fact_from_its_first_entry_that_had_seen_it() {
    let (a, b) = (log(1, 1), log(2, 1));
    let first = link(a, 3, 0, &[]);
    let late = link(b, 9, 100, &[(a, 4)]);
    let awareness = Awareness::of([(&first, &late)]);
    let in_view = "; lap-b had the link of C1 to T13 in view";
    let points: [Point<'_>; 3] = [
        (b, sight(2, 20, 0), &[(a, 2)]),
        (b, sight(5, 59, 0), &[(a, 3)]),
        (b, sight(7, 80, 0), &[(a, 4)]),
    ];
    assert_eq!(
        told(&awareness, &points),
        "; lap-b had held the link of C1 to T13 for at least 41 minutes by its own clock"
    );
    // The order in which they were noted does not show.
    let [x, y, z] = points;
    assert_eq!(told(&awareness, &[z, x, y]), told(&awareness, &points));
    assert_eq!(told(&awareness, &[x]), in_view, "nobody kept since when");
    assert_eq!(
        told(&awareness, &[(b, sight(5, 59, 1), &[(a, 3)])]),
        in_view,
        "that time may be another's"
    );
    assert_eq!(
        told(&awareness, &[(b, sight(5, 101, 0), &[(a, 3)])]),
        in_view,
        "its clock was set back"
    );
    assert_eq!(
        told(&awareness, &[(b, sight(9, 100, 0), &[(a, 3)])]),
        in_view,
        "it came in just before"
    );
    assert_eq!(
        told(&awareness, &[(b, sight(5, 99, 0), &[(a, 3)])]),
        "; lap-b had held the link of C1 to T13 for at least 1 minute by its own clock"
    );
}

#[test]
fn a_time_by_another_clock_gives_no_duration() {
    let (a, b) = (log(1, 1), log(2, 1));
    let first = link(a, 1, 0, &[]);
    let by_server = r#"{"kind":"link","camera":"C1","tracker":"T9","clock":"reference","at":"1970-01-01T01:40:00Z"}"#;
    let mut late = RecordedFact::clone(&link(b, 9, 100, &[(a, 1)]));
    late.fact = Fact::from_line(&b.device, by_server).unwrap();
    let awareness = Awareness::of([(&first, &Arc::new(late))]);
    let points: [Point<'_>; 1] = [(b, sight(5, 59, 0), &[(a, 1)])];
    assert_eq!(told(&awareness, &points), "; lap-b had the link of C1 to T11 in view");
}

#[test]
fn a_device_that_contradicts_itself_is_told_so() {
    let a = log(1, 1);
    let pair = |from: i64, to: i64| Awareness::of([(&link(a, 1, from, &[]), &link(a, 2, to, &[]))]);
    assert_eq!(
        told(&pair(0, 130), &[]),
        "; lap-a itself had recorded the link of C1 to T11, 2 hours 10 minutes before by its own clock"
    );
    assert_eq!(
        told(&pair(90, 0), &[]),
        "; lap-a itself had recorded the link of C1 to T11 before",
        "its clock went back"
    );
}

#[test]
fn those_who_had_not_seen_each_other_are_named_by_their_number() {
    let logs = [log(1, 1), log(1, 2), log(1, 3), log(2, 1), log(3, 1)];
    let [one, two, three, b, c] = logs.map(|l| link(l, 1, 0, &[]));
    let facts = MemoryFacts::default();
    let (standard, clocks) = (Standard::built_in(), Clocks::unmeasured());
    let world = World {
        facts: &facts,
        standard: &standard,
        clocks: &clocks,
    };
    let (name, names) = (DeviceKey([1; 32]).short(), DeviceNames::default());
    let said = |who: &[&Arc<RecordedFact>]| {
        let awareness = Awareness::of([(&one, &b)]);
        let knowledge = awareness.knowledge_of_one_sort(&world, who.iter().copied());
        clause(&knowledge, "link", &names)
    };
    assert_eq!(said(&[]), "");
    assert_eq!(said(&[&one]), "");
    assert_eq!(said(&[&one, &b]), "; neither device had seen the other's link");
    assert_eq!(said(&[&one, &b, &c]), "; none of these devices had seen another's link");
    assert_eq!(
        said(&[&one, &two]),
        format!("; neither copy of {name} had seen the other's link")
    );
    assert_eq!(
        said(&[&one, &two, &three]),
        format!("; none of the copies of {name} had seen another's link")
    );
    let copies = Awareness::of([(&one, &two)]).knowledge(&world);
    assert_eq!(
        clause(&copies, "", &names),
        format!(
            "; neither copy of {name} had seen what the other recorded: the link of C1 to T11 and the link of C1 to T11"
        )
    );
}
