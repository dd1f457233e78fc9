//! What the two rules about double links share: they read the same links from either end.
//!
//! Standing: links of the one part to different others clash. `aware` when one of them was recorded with such another in view.

use std::collections::BTreeSet;

use crate::awareness::{Awareness, apart};
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::jobs_of_links;
use crate::ties::{Tie, Ties};
use crate::words::{deed, listed};
use crate::world::{Case, World};

/// The end of a link from which it is read.
#[derive(Clone, Copy)]
pub(super) struct End {
    /// What the subject is called.
    pub this: &'static str,
    /// What hangs at the other end.
    pub other: &'static str,
    /// The code at the other end.
    pub far: fn(&Tie) -> &str,
}

/// Finds two different parts tied to the one subject.
pub(super) fn judge(world: &World<'_>, case: &Case, end: End) -> Option<Draft> {
    let ties = Ties::among(&case.facts);
    let live = ties.live();
    let different = live.iter().map(|t| (end.far)(t)).collect::<BTreeSet<_>>().len();
    if different >= 2 {
        Some(open(world, case, end, &live))
    } else {
        cleared(world, case, end, &ties)
    }
}

fn open(world: &World<'_>, case: &Case, end: End, live: &[&Tie]) -> Draft {
    let awareness = awareness(end, live);
    let (this, other, code) = (end.this, end.other, case.subject.text());
    Draft::new(Severity::Stop, jobs_of_links(world.facts, live))
        .by(live.iter().map(|t| t.recorded.clone()))
        .standing(awareness.standing())
        .open(
            format!(
                "{} {code} is linked to {}{}.",
                capital(this),
                ends(world, end, live),
                known(world, &awareness, live)
            ),
            format!(
                "Look at the trailer: which {other} does {this} {code} really belong to? Record an unlink for each link that is wrong."
            ),
        )
}

/// Reports a clash that is over, unless each part was properly taken off before the next was tied.
fn cleared(world: &World<'_>, case: &Case, end: End, ties: &Ties) -> Option<Draft> {
    let clashing = clashing(end, ties);
    if clashing.is_empty() {
        return None;
    }
    let removals: Vec<&Tie> = clashing.iter().flat_map(|l| ties.removals(l)).collect();
    let evidence = clashing.iter().chain(&removals).map(|t| t.recorded.clone());
    let (this, code) = (capital(end.this), case.subject.text());
    let awareness = awareness(end, &clashing);
    let draft = Draft::new(Severity::Stop, jobs_of_links(world.facts, &clashing))
        .by(evidence)
        .standing(awareness.standing());
    Some(draft.cleared(format!(
        "{this} {code} was linked to {} at once{}; an unlink has put that right since.",
        ends(world, end, &clashing),
        known(world, &awareness, &clashing)
    )))
}

/// The links of which some pair was tied to different parts with neither taken off before the other.
fn clashing(end: End, ties: &Ties) -> Vec<&Tie> {
    let links: Vec<(&Tie, Vec<&Tie>)> = ties.links.iter().map(|l| (l, ties.removals(l).collect())).collect();
    let apart = |off: &[&Tie], b: &Tie| off.iter().any(|u| u.recorded.happens_before(&b.recorded));
    let clash = |(a, a_off): &(&Tie, Vec<&Tie>), (b, b_off): &(&Tie, Vec<&Tie>)| {
        (end.far)(a) != (end.far)(b) && !apart(a_off, b) && !apart(b_off, a)
    };
    let clashes = links.iter().filter(|a| links.iter().any(|b| clash(a, b)));
    clashes.map(|(link, _)| *link).collect()
}

fn awareness(end: End, links: &[&Tie]) -> Awareness {
    let facts: Vec<_> = links.iter().map(|t| (&t.recorded, (end.far)(t))).collect();
    Awareness::among(&facts, |one, other| one != other)
}

/// `; neither device had seen the other's link`, or which device had held which link for how long.
fn known(world: &World<'_>, awareness: &Awareness, links: &[&Tie]) -> String {
    match awareness {
        Awareness::Neither(..) => {
            apart(world, links.iter().map(|t| &t.recorded), "link").map_or_else(String::new, |told| format!("; {told}"))
        }
        _ => awareness.describe(world),
    }
}

/// `trackers T1 (mara on …) and T2 (jonas on …)`.
fn ends(world: &World<'_>, end: End, links: &[&Tie]) -> String {
    let each = links
        .iter()
        .map(|t| format!("{} by {}", (end.far)(t), deed(world, &t.recorded)));
    format!("{}s {}", end.other, listed(each))
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters
        .next()
        .map(|first| first.to_uppercase().chain(letters).collect())
        .unwrap_or_default()
}
