use super::*;
use proptest::prelude::*;

fn s(wall_us: i64, counter: u32) -> Stamp {
    Stamp { wall_us, counter }
}

/// Receiving a message, as the paper has it: merge, then tick.
fn receive(own: Stamp, foreign: Stamp, now_us: i64, bound_us: i64) -> Result<Stamp, ClockError> {
    Ok(own.merge(foreign, now_us, bound_us)?.tick(now_us))
}

/// The rule of Kulkarni et al. 2014, Fig. 5, with a worked example of the project.
#[test]
fn message_receipt_follows_figure_5() {
    let from = s(20, 4);
    for (foreign, now_us, want) in [
        (s(20, 7), 20, s(20, 8)),
        (s(19, 99), 5, s(20, 5)),
        (s(25, 2), 24, s(25, 3)),
        (s(25, 9), 30, s(30, 0)),
    ] {
        assert_eq!(
            receive(from, foreign, now_us, 1_000),
            Ok(want),
            "{foreign:?} at {now_us}"
        );
    }
}

#[test]
fn a_clock_set_back_does_not_turn_time_around() {
    let mut stamp = Stamp::default();
    let got: Vec<_> = [100, 40, 100, 101]
        .into_iter()
        .map(|now_us| {
            stamp = stamp.tick(now_us);
            stamp
        })
        .collect();
    assert_eq!(got, [s(100, 0), s(100, 1), s(100, 2), s(101, 0)]);
}

#[test]
fn a_stamp_shows_its_makers_clock_only_without_a_counter() {
    assert_eq!(s(20, 4).tick(30).own_wall_us(), Some(30));
    assert_eq!(
        s(20, 4).tick(19).own_wall_us(),
        None,
        "its clock said 19, the stamp says 20"
    );
    assert_eq!(
        receive(s(20, 4), s(25, 0), 24, 10).unwrap().own_wall_us(),
        None,
        "25 is the other's clock"
    );
    let later = receive(s(20, 4), s(25, 0), 26, 10).unwrap();
    assert_eq!(later.own_wall_us(), Some(26));
}

#[test]
fn a_foreign_clock_cannot_push_ours_beyond_the_bound() {
    let own = s(1_000, 0);
    assert_eq!(
        own.merge(s(2_000_000, 0), 1_000, 500),
        Err(ClockError::TooFarAhead {
            ahead_us: 1_999_000,
            bound_us: 500
        })
    );
    assert_eq!(s(5, u32::MAX).tick(3), s(6, 0), "a full counter moves the wall part on");
}

/// Fig. 5 of Kulkarni et al. 2014 ("Logical Physical Clocks"), written down once more with the names of the paper: `l` and `c`
/// of the node, `pt` its physical clock, `m` the message. From memory of the paper, as is the theorem below.
fn figure_5(l: i64, c: u32, pt: i64, m: Option<(i64, u32)>) -> (i64, u32) {
    let Some((l_m, c_m)) = m else {
        let l_new = l.max(pt);
        return (l_new, if l_new == l { c + 1 } else { 0 });
    };
    let l_new = l.max(l_m).max(pt);
    let c_new = if l_new == l && l_new == l_m {
        c.max(c_m) + 1
    } else if l_new == l {
        c + 1
    } else if l_new == l_m {
        c_m + 1
    } else {
        0
    };
    (l_new, c_new)
}

/// Something that happens at one of three nodes: it works, or it hears of what another one did last.
#[derive(Debug, Clone, Copy)]
struct Event {
    node: usize,
    heard_of: Option<usize>,
    passed_us: i64,
}

fn any_event() -> impl Strategy<Value = Event> {
    (0usize..3, prop::option::of(0usize..3), -20i64..30).prop_map(|(node, heard_of, passed_us)| Event {
        node,
        heard_of,
        passed_us,
    })
}

proptest! {
    #[test]
    fn every_step_is_the_one_of_figure_5(
        l in 0i64..50, c in 0u32..9, pt in 0i64..50, m in prop::option::of((0i64..50, 0u32..9)),
    ) {
        let got = match m {
            None => s(l, c).tick(pt),
            Some((l_m, c_m)) => receive(s(l, c), s(l_m, c_m), pt, 1_000).unwrap(),
        };
        prop_assert_eq!((got.wall_us, got.counter), figure_5(l, c, pt, m));
    }

    /// What the paper proves: a later event has a greater stamp, no stamp lies behind its own physical clock, and none ahead of
    /// the largest physical clock that its event can know of. Clocks here jump in both directions.
    #[test]
    fn stamps_respect_what_was_heard_and_run_no_further_than_the_fastest_clock(
        events in prop::collection::vec(any_event(), 1..60),
    ) {
        let mut clocks = [1_000i64; 3];
        let mut stamps = [Stamp::default(); 3];
        let mut largest = [0i64; 3];
        for event in events {
            let n = event.node;
            clocks[n] += event.passed_us;
            let before = stamps[n];
            stamps[n] = match event.heard_of {
                Some(other) if other != n => {
                    largest[n] = largest[n].max(largest[other]);
                    let merged = receive(before, stamps[other], clocks[n], i64::MAX).unwrap();
                    prop_assert!(merged > stamps[other]);
                    merged
                }
                _ => before.tick(clocks[n]),
            };
            largest[n] = largest[n].max(clocks[n]);
            prop_assert!(stamps[n] > before && stamps[n].wall_us >= clocks[n]);
            prop_assert_eq!(stamps[n].wall_us, largest[n]);
        }
    }
}
