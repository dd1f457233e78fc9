//! Live links of one tracker were made in jobs on different trailers.
//!
//! Standing: the links clash.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::{Rule, usual_rights};
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::{jobs_of_link, jobs_of_links, trailers_of};
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::part::{SharedTracker, TrackerUse};
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject};
use crate::ties::{Tie, Ties};
use crate::world::World;

pub(super) struct TrackerOnTwoTrailers;

impl Rule for TrackerOnTwoTrailers {
    fn name(&self) -> &'static str {
        "tracker-on-two-trailers"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Tracker]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let ties = Ties::among(&case.facts);
        let placed = ties.live().into_iter().map(|tie| (tie, trailers_of_link(world, tie)));
        let placed: Vec<(&Tie, BTreeSet<String>)> = placed.filter(|(_, trailers)| !trailers.is_empty()).collect();
        let clash = |a: &BTreeSet<String>, b: &BTreeSet<String>| a.is_disjoint(b);
        let clashing: Vec<&(&Tie, BTreeSet<String>)> = placed
            .iter()
            .filter(|(_, a)| placed.iter().any(|(_, b)| clash(a, b)))
            .collect();
        if clashing.is_empty() {
            return None;
        }
        let facts: Vec<(&Arc<RecordedFact>, &BTreeSet<String>)> = clashing
            .iter()
            .map(|(tie, trailers)| (&tie.recorded, trailers))
            .collect();
        let awareness = Awareness::among(&facts, |a, b| clash(a, b));
        let links: Vec<&Tie> = clashing.iter().map(|(tie, _)| *tie).collect();
        let reason = Reason::TrackerOnTwoTrailers(SharedTracker {
            uses: clashing
                .iter()
                .map(|(tie, trailers)| tracker_use(tie, trailers))
                .collect(),
            knowledge: awareness.knowledge_of_one_sort(world, links.iter().map(|t| &t.recorded)),
        });
        let draft = Draft::new(Severity::Stop, jobs_of_links(world.facts, &links), reason)
            .made_by(links.iter().map(|t| t.recorded.clone()))
            .standing(awareness.standing());
        Some(draft)
    }

    fn rights(&self, world: &World<'_>, case: &Case) -> Vec<Arc<RecordedFact>> {
        let mut found = usual_rights(world, case);
        found.extend(case.facts.iter().filter(|w| w.is(&Kind::Unlink)).cloned());
        // Somebody corrected the trailer of a job.
        let jobs: BTreeSet<String> = case.facts.iter().filter_map(|w| w.key("job")).collect();
        let about = jobs.into_iter().flat_map(|job| world.facts.about(&Subject::Job(job)));
        found.extend(about.filter(|w| w.is(&Kind::Job) && w.fact.text("trailer").is_some()));
        found
    }
}

fn trailers_of_link(world: &World<'_>, tie: &Tie) -> BTreeSet<String> {
    let jobs = jobs_of_link(world.facts, tie);
    jobs.iter().flat_map(|job| trailers_of(world.facts, job)).collect()
}

fn tracker_use(tie: &Tie, trailers: &BTreeSet<String>) -> TrackerUse {
    TrackerUse {
        trailers: trailers.clone(),
        camera: tie.camera.clone(),
        link: FactRef::of(&tie.recorded),
    }
}
