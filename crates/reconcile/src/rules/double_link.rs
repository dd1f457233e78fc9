//! The shared part of `camera-on-two-trackers` and `tracker-with-two-cameras`: the same links, read from either end.
//!
//! Standing: links of the one part to different others clash. `aware` when one of them was recorded with such another in view.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::usual_rights;
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::jobs_of_links;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::part::{DoubleLink, LinkTo};
use crate::recorded_fact::RecordedFact;
use crate::ties::{Tie, Ties};
use crate::world::World;

/// The end of a link from which it is read.
#[derive(Clone, Copy)]
pub(super) struct End {
    /// What the code at the other end is compared by.
    pub far: fn(&Tie) -> &str,
    /// The code at the other end, as written.
    pub shown: fn(&Tie) -> &str,
    /// The reason that the rule of this end gives.
    pub reason: fn(DoubleLink) -> Reason,
}

/// Finds two different parts linked to the one subject.
pub(super) fn judge(world: &World<'_>, case: &Case, end: End) -> Option<Draft> {
    let ties = Ties::among(&case.facts);
    let live = ties.live();
    let different = live.iter().map(|t| (end.far)(t)).collect::<BTreeSet<_>>().len();
    if different >= 2 {
        return Some(draft(world, end, &live));
    }
    let over = clashing(end, &ties);
    let removals = over.iter().flat_map(|l| ties.removals(l));
    let removals: Vec<_> = removals.map(|u| u.recorded.clone()).collect();
    (!over.is_empty()).then(|| draft(world, end, &over).cleared_by(removals))
}

/// What may have put it right: withdrawals, and unlinks.
pub(super) fn rights(world: &World<'_>, case: &Case) -> Vec<Arc<RecordedFact>> {
    let mut found = usual_rights(world, case);
    found.extend(case.facts.iter().filter(|w| w.is(&Kind::Unlink)).cloned());
    found
}

fn draft(world: &World<'_>, end: End, links: &[&Tie]) -> Draft {
    let facts: Vec<_> = links.iter().map(|t| (&t.recorded, (end.far)(t))).collect();
    let awareness = Awareness::among(&facts, |one, other| one != other);
    let link_to = |t: &&Tie| LinkTo {
        code: (end.shown)(t).to_owned(),
        link: FactRef::of(&t.recorded),
    };
    let reason = (end.reason)(DoubleLink {
        links: links.iter().map(link_to).collect(),
        knowledge: awareness.knowledge_of_one_sort(world, links.iter().map(|t| &t.recorded)),
    });
    Draft::new(Severity::Stop, jobs_of_links(world.facts, links), reason)
        .made_by(links.iter().map(|t| t.recorded.clone()))
        .standing(awareness.standing())
}

/// The links that were live together with a link to a different part: neither was taken off before the other was made.
fn clashing(end: End, ties: &Ties) -> Vec<&Tie> {
    let links: Vec<(&Tie, Vec<&Tie>)> = ties.links.iter().map(|l| (l, ties.removals(l).collect())).collect();
    let apart = |off: &[&Tie], b: &Tie| off.iter().any(|u| u.recorded.happens_before(&b.recorded));
    let clash = |(a, a_off): &(&Tie, Vec<&Tie>), (b, b_off): &(&Tie, Vec<&Tie>)| {
        (end.far)(a) != (end.far)(b) && !apart(a_off, b) && !apart(b_off, a)
    };
    let clashes = links.iter().filter(|a| links.iter().any(|b| clash(a, b)));
    clashes.map(|(link, _)| *link).collect()
}
