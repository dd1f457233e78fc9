//! Two jobs on one trailer, neither stood down, neither signed off before the other was opened.
//!
//! A job is opened by its first job facts. A sign-off that comes later does not put it right: two people
//! worked on one trailer without agreeing. Standing one of the jobs down does.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::Rule;
use crate::finding::{Draft, Severity, Standing};
use crate::job::JobView;
use crate::judge::{Case, World};
use crate::subject::Class;
use crate::witness::Witness;
use crate::words::{deeds, listed};

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
        let ordered = told
            .iter()
            .any(|a| told.iter().any(|b| a.knew_of(b) && a.clashes(world, b)));
        let standing = Standing::of(ordered);
        let draft = Draft::new(Severity::Ask, jobs.keys().map(|job| (*job).to_owned()))
            .by(jobs.values().flat_map(|v| v.evidence(cleared)))
            .standing(standing);
        let says = says(world, &trailer, &jobs, standing, cleared);
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
    openings: Vec<Arc<Witness>>,
    /// The job facts that name the trailer.
    naming: Vec<Arc<Witness>>,
    stand_downs: Vec<Arc<Witness>>,
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
        let earlier = |end: &Witness| other.openings.iter().all(|o| world.clocks.before(end, o));
        ends.into_iter().any(|end| earlier(end))
    }

    /// Whether the job was opened with the opening of `other` in view.
    fn knew_of(&self, other: &Self) -> bool {
        let saw = |own: &Witness| other.openings.iter().any(|o| o.happens_before(own));
        self.openings.iter().any(|own| saw(own))
    }

    fn evidence(&self, cleared: bool) -> Vec<Arc<Witness>> {
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
        let names_it = |w: &&Arc<Witness>| w.fact.text("trailer").is_some_and(|t| t == trailer);
        let naming: Vec<_> = holders.iter().filter(names_it).cloned().collect();
        if !naming.is_empty() {
            found.push(Visit {
                openings: view.openings(),
                stand_downs: view.standing_stand_downs(),
                naming,
                view,
            });
        }
    }
    found
}

/// The jobs that clash with another one of them.
fn clashing<'a>(world: &World<'_>, visits: &[&'a Visit]) -> Vec<&'a Visit> {
    let clashes = |a: &&&Visit| visits.iter().any(|b| a.clashes(world, b));
    visits.iter().filter(clashes).copied().collect()
}

fn says(world: &World<'_>, trailer: &str, jobs: &BTreeMap<&str, &Visit>, standing: Standing, cleared: bool) -> String {
    let each = jobs
        .iter()
        .map(|(job, v)| format!("{job}, opened by {}", deeds(world, &v.openings)));
    let each = listed(each);
    let known = match standing {
        Standing::Aware => "one was opened with the other in view",
        _ => "neither opener could know of the other",
    };
    if cleared {
        let down = jobs
            .values()
            .flat_map(|v| v.stand_downs.iter().cloned())
            .collect::<Vec<_>>();
        let down = deeds(world, &down);
        format!("Trailer {trailer} had two jobs at once: {each}; stood down since by {down}.")
    } else {
        format!("Trailer {trailer} has more than one open visit: {each}; {known}.")
    }
}
