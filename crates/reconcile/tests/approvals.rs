//! Which approvals a report may name: those that counted, and nobody's own.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod common;

use common::{Yard, world};
use gladhand_reconcile::approvals::Approved;
use gladhand_reconcile::counted::counted;
use gladhand_reconcile::{Clocks, JobView};

/// A loaded trailer whose probe lies between two answers, in a place that is for the office. `place` and `reading` approve.
fn approved(place: &str, reading: &str) -> Vec<(Approved, Option<String>, String)> {
    let mut yard = Yard::default();
    let check = |check: &str, says: &str, by: &str| {
        format!(r#"{{"kind":"check","job":"J1","check":"{check}",{says},"by":"{by}"}}"#)
    };
    let lines = [
        r#"{"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"loaded","by":"mara"}"#.to_owned(),
        check("placement-top", r#""value":"4 in""#, "mara"),
        check("approval", r#""ok":true"#, place),
        check("freight-at-opening", r#""value":"no""#, "mara"),
        check("pilot-hole", r#""ok":true"#, "mara"),
        check("first-probe", r#""value":"1/2 in""#, "mara"),
        check("approval", r#""ok":true,"of":"reading""#, reading),
        check("hole-cut", r#""ok":true"#, "mara"),
    ];
    lines.iter().for_each(|line| yard.record("lap-a", line, false));
    let facts = yard.memory(yard.facts.clone());
    let clocks = Clocks::unmeasured();
    let job = JobView::load(&facts, "J1");
    let found = counted(&world(&facts, &clocks), &job, &[]).into_iter();
    found
        .map(|c| (c.of, c.check, c.approval.owned("by").unwrap()))
        .collect()
}

#[test]
fn the_approvals_that_counted_are_told_apart() {
    let place = (Approved::Place, Some("placement-top".to_owned()), "ida".to_owned());
    let reading = (Approved::Reading, None, "ines".to_owned());
    assert_eq!(approved("ida", "ines"), [place.clone(), reading.clone()]);
    assert_eq!(approved("mara", "ines"), [reading]);
    assert_eq!(
        approved("ida", "MARA"),
        [place],
        "nobody approves a reading of his own, however he is spelt"
    );
}
