//! Live links of two trackers were made in jobs on one trailer.
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
use crate::job::{JobView, jobs_of_links};
use crate::reason::Reason;
use crate::reason::fact_ref::PairRef;
use crate::reason::part::TwoPairs;
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject};
use crate::ties::Tie;
use crate::world::World;

pub(super) struct TrailerWithTwoPairs;

impl Rule for TrailerWithTwoPairs {
    fn name(&self) -> &'static str {
        "trailer-with-two-pairs"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Trailer]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let mut live: Vec<&Tie> = jobs_on(world, case).flat_map(|job| job.ties.live()).collect();
        live.sort_by_key(|t| t.recorded.place);
        live.dedup_by_key(|t| t.recorded.place);
        let trackers: BTreeSet<&str> = live.iter().map(|t| t.tracker_key.as_str()).collect();
        if trackers.len() < 2 {
            return None;
        }
        let facts: Vec<(&Arc<RecordedFact>, &str)> =
            live.iter().map(|t| (&t.recorded, t.tracker_key.as_str())).collect();
        let awareness = Awareness::among(&facts, |a, b| a != b);
        let reason = Reason::TrailerWithTwoPairs(TwoPairs {
            links: PairRef::all(&live),
            knowledge: awareness.knowledge_of_one_sort(world, live.iter().map(|t| &t.recorded)),
        });
        let draft = Draft::new(Severity::Stop, jobs_of_links(world.facts, &live), reason)
            .made_by(live.iter().map(|t| t.recorded.clone()))
            .standing(awareness.standing());
        Some(draft)
    }

    fn rights(&self, world: &World<'_>, case: &Case) -> Vec<Arc<RecordedFact>> {
        let mut found = usual_rights(world, case);
        for job in jobs_on(world, case) {
            found.extend(job.ties.unlinks.iter().map(|u| u.recorded.clone()));
            found.extend(job.of_kind(&Kind::Withdraw).cloned());
        }
        let renamed = case.facts.iter().filter_map(|w| w.key("job")).collect::<BTreeSet<_>>();
        let about = renamed
            .into_iter()
            .flat_map(|job| world.facts.about(&Subject::Job(job)));
        found.extend(about.filter(|w| w.is(&Kind::Job) && w.fact.text("trailer").is_some()));
        found
    }
}

/// The jobs that name the trailer now.
fn jobs_on<'c>(world: &World<'_>, case: &'c Case) -> impl Iterator<Item = &'c JobView> {
    let trailer = case.subject.text().into_owned();
    let jobs = case.named_jobs(world).iter();
    jobs.filter(move |job| job.value_keys("trailer").contains(&trailer))
}
