//! Two jobs on one trailer, neither stood down, neither signed off before the other was opened.
//!
//! A job is opened by its first job facts. A sign-off that comes later does not put it right: two people
//! worked on one trailer without agreeing. Standing one of the jobs down does.
//!
//! Standing: the first facts that put each job on the trailer clash. `aware` when one of them was recorded with the other's in view.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::{Rule, usual_rights};
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::placed::Placed;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::job::{OpenedJob, SharedTrailer};
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject};
use crate::world::World;

pub(super) struct TrailerOpenedTwice;

impl Rule for TrailerOpenedTwice {
    fn name(&self) -> &'static str {
        "trailer-opened-twice"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Trailer]
    }

    fn rights(&self, world: &World<'_>, case: &Case) -> Vec<Arc<RecordedFact>> {
        let mut found = usual_rights(world, case);
        let jobs: BTreeSet<String> = case.facts.iter().filter_map(|w| w.key("job")).collect();
        let about = jobs.into_iter().flat_map(|job| world.facts.about(&Subject::Job(job)));
        let rights =
            |w: &Arc<RecordedFact>| w.is(&Kind::StandDown) || w.is(&Kind::Job) && w.fact.text("trailer").is_some();
        found.extend(about.filter(rights));
        found
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let trailer = case.subject.text();
        let visits = visits(world, case, &trailer);
        let active: Vec<&Visit<'_>> = visits.iter().filter(|v| v.stand_downs.is_empty()).collect();
        let open = clashing(world, &active);
        let is_cleared = open.is_empty();
        let told = if is_cleared {
            clashing(world, &visits.iter().collect::<Vec<_>>())
        } else {
            open
        };
        if told.is_empty() {
            return None;
        }
        let awareness = awareness(world, &told);
        let stand_downs: Vec<_> = told.iter().flat_map(|v| v.stand_downs.iter().cloned()).collect();
        let reason = Reason::TrailerOpenedTwice(SharedTrailer {
            jobs: told.iter().map(|v| v.opened_job()).collect(),
            knowledge: awareness.knowledge_of_one_sort(world, told.iter().flat_map(|v| &v.openings)),
            stood_down_by: FactRef::all(&stand_downs),
        });
        let draft = Draft::new(Severity::Ask, told.iter().map(|v| v.view.key.clone()), reason)
            .made_by(told.iter().flat_map(|v| v.openings.clone()))
            .standing(awareness.standing())
            .cleared_by(stand_downs.into_iter().filter(|_| is_cleared));
        Some(draft)
    }
}

/// A job on the trailer.
struct Visit<'c> {
    view: &'c JobView,
    openings: Vec<Arc<RecordedFact>>,
    stand_downs: Vec<Arc<RecordedFact>>,
}

impl Visit<'_> {
    /// Whether neither of the two had ended before the other was opened.
    fn clashes(&self, world: &World<'_>, other: &Visit<'_>) -> bool {
        self.view.key != other.view.key && !self.ended_before(world, other) && !other.ended_before(world, self)
    }

    /// Whether the job had ended before `other` was opened.
    fn ended_before(&self, world: &World<'_>, other: &Visit<'_>) -> bool {
        let ends = self.view.sign_offs.iter().chain(&self.view.stand_downs);
        let is_before = |end: &RecordedFact, o: &RecordedFact| world.clocks.placed(end, o) == Placed::Before;
        let earlier = |end: &RecordedFact| other.openings.iter().all(|o| is_before(end, o));
        ends.into_iter().any(|end| earlier(end))
    }

    fn opened_job(&self) -> OpenedJob {
        OpenedJob {
            job: self.view.job.clone(),
            opened_by: FactRef::all(&self.openings),
        }
    }
}

/// The jobs whose field `trailer` names this one now, by name.
fn visits<'c>(world: &World<'_>, case: &'c Case, trailer: &str) -> Vec<Visit<'c>> {
    let mut found = Vec::new();
    for view in case.named_jobs(world) {
        let holders = view.fields.get("trailer").map_or(&[][..], Vec::as_slice);
        let names_it = |w: &&Arc<RecordedFact>| w.key("trailer").is_some_and(|t| t == trailer);
        let is_named = holders.iter().any(|w| names_it(&w));
        let openings = view.openings();
        if is_named && !openings.is_empty() {
            found.push(Visit {
                openings,
                stand_downs: view.standing_stand_downs(),
                view,
            });
        }
    }
    found
}

/// Whether the recorders of the claims that clash had seen each other's.
fn awareness(world: &World<'_>, told: &[&Visit<'_>]) -> Awareness {
    let claims = told
        .iter()
        .flat_map(|v| v.openings.iter().map(move |opening| (opening, *v)));
    Awareness::among(&claims.collect::<Vec<_>>(), |a, b| a.clashes(world, b))
}

/// The jobs that clash with another one of them.
fn clashing<'a, 'c>(world: &World<'_>, visits: &[&'a Visit<'c>]) -> Vec<&'a Visit<'c>> {
    let clashes = |a: &&&Visit<'_>| visits.iter().any(|b| a.clashes(world, b));
    visits.iter().filter(clashes).copied().collect()
}
