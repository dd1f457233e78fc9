//! Two jobs on one trailer, neither stood down, neither signed off before the other was opened.
//!
//! A job is opened by its first job facts. A sign-off that comes later does not put it right: two people
//! worked on one trailer without agreeing. Standing one of the jobs down does.
//!
//! Standing: the first facts that put each job on the trailer clash. `aware` when one of them was recorded with the other's in view.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::Rule;
use crate::awareness::{Awareness, apart};
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::recorded_fact::{RecordedFact, earliest};
use crate::subject::Class;
use crate::words::{deeds, listed};
use crate::world::{Case, World};

pub(super) struct TrailerOpenedTwice;

impl Rule for TrailerOpenedTwice {
    fn name(&self) -> &'static str {
        "trailer-opened-twice"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Trailer]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let trailer = case.subject.text();
        let visits = visits(world, case, &trailer);
        let active: Vec<&Visit> = visits.iter().filter(|v| !v.given_up()).collect();
        let open = clashing(world, &active);
        let cleared = open.is_empty();
        let told = if cleared {
            clashing(world, &visits.iter().collect::<Vec<_>>())
        } else {
            open
        };
        if told.is_empty() {
            return None;
        }
        let jobs: BTreeMap<&str, &Visit> = told.iter().map(|v| (v.view.job.as_str(), *v)).collect();
        let awareness = awareness(world, &told);
        let draft = Draft::new(Severity::Ask, jobs.keys().map(|job| (*job).to_owned()))
            .by(jobs.values().flat_map(|v| v.evidence(cleared)))
            .standing(awareness.standing());
        let says = says(world, &trailer, &jobs, &awareness, cleared);
        Some(if cleared {
            draft.cleared(says)
        } else {
            draft.open(
                says,
                "Agree which job goes on and stand the other down; check that the trailer was not fitted twice.",
            )
        })
    }
}

/// A job on the trailer.
struct Visit {
    view: JobView,
    openings: Vec<Arc<RecordedFact>>,
    /// The job facts that name the trailer now.
    naming: Vec<Arc<RecordedFact>>,
    /// The first job facts that named it.
    claims: Vec<Arc<RecordedFact>>,
    stand_downs: Vec<Arc<RecordedFact>>,
}

impl Visit {
    fn given_up(&self) -> bool {
        !self.stand_downs.is_empty()
    }

    /// Whether neither of the two had ended before the other was opened.
    fn clashes(&self, world: &World<'_>, other: &Self) -> bool {
        self.view.job != other.view.job && !self.ended_before(world, other) && !other.ended_before(world, self)
    }

    /// Whether the job had ended before `other` was opened.
    fn ended_before(&self, world: &World<'_>, other: &Self) -> bool {
        let ends = self.view.sign_offs.iter().chain(&self.view.stand_downs);
        let earlier = |end: &RecordedFact| other.openings.iter().all(|o| world.clocks.before(end, o));
        ends.into_iter().any(|end| earlier(end))
    }

    fn evidence(&self, cleared: bool) -> Vec<Arc<RecordedFact>> {
        let mut facts = [self.openings.clone(), self.naming.clone()].concat();
        if cleared {
            facts.extend(self.stand_downs.iter().cloned());
        }
        facts
    }
}

/// The jobs whose field `trailer` names this one now.
fn visits(world: &World<'_>, case: &Case, trailer: &str) -> Vec<Visit> {
    let jobs: BTreeSet<String> = case.facts.iter().filter_map(|w| w.owned("job")).collect();
    let mut found = Vec::new();
    for job in jobs {
        let view = JobView::load(world.facts, &job);
        let holders = view.fields.get("trailer").map_or(&[][..], Vec::as_slice);
        let names_it = |w: &&Arc<RecordedFact>| w.fact.text("trailer").is_some_and(|t| t == trailer);
        let naming: Vec<_> = holders.iter().filter(names_it).cloned().collect();
        if !naming.is_empty() {
            let mut claims: Vec<_> = view.of_kind(&Kind::Job).cloned().collect();
            claims.retain(|w| names_it(&w));
            found.push(Visit {
                claims: earliest(&claims),
                openings: view.openings(),
                stand_downs: view.standing_stand_downs(),
                naming,
                view,
            });
        }
    }
    found
}

/// Who had seen whose job on the trailer, over all pairs that clash.
fn awareness(world: &World<'_>, told: &[&Visit]) -> Awareness {
    let claims = told.iter().flat_map(|v| v.claims.iter().map(move |claim| (claim, *v)));
    Awareness::among(&claims.collect::<Vec<_>>(), |a, b| a.clashes(world, b))
}

/// The jobs that clash with another one of them.
fn clashing<'a>(world: &World<'_>, visits: &[&'a Visit]) -> Vec<&'a Visit> {
    let clashes = |a: &&&Visit| visits.iter().any(|b| a.clashes(world, b));
    visits.iter().filter(clashes).copied().collect()
}

fn says(
    world: &World<'_>,
    trailer: &str,
    jobs: &BTreeMap<&str, &Visit>,
    awareness: &Awareness,
    cleared: bool,
) -> String {
    let each = jobs
        .iter()
        .map(|(job, v)| format!("{job}, opened by {}", deeds(world, &v.openings)));
    let each = listed(each);
    let known = match awareness {
        Awareness::Neither(..) => apart(world, jobs.values().flat_map(|v| &v.claims), "job")
            .map_or_else(String::new, |told| format!("; {told}")),
        _ => awareness.describe(world),
    };
    if cleared {
        let down = jobs
            .values()
            .flat_map(|v| v.stand_downs.iter().cloned())
            .collect::<Vec<_>>();
        let down = deeds(world, &down);
        format!("Trailer {trailer} had two jobs at once: {each}{known}; stood down since by {down}.")
    } else {
        format!("Trailer {trailer} has more than one open visit: {each}{known}.")
    }
}
