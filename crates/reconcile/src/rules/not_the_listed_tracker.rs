//! The lists give this trailer another tracker than the pair's.
//!
//! List and pair are read as they stand. Of concurrent entries of the list any that names the pair's tracker will do.
//!
//! Standing: the entry clashes with the link.

use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::{Rule, usual_rights};
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::listed::{Listed, listed_trackers};
use crate::reason::Reason;
use crate::reason::fact_ref::{FactRef, PairRef};
use crate::reason::part::{ListedTracker, UnlistedTracker};
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject};
use crate::ties::Tie;
use crate::world::World;

pub(super) struct NotTheListedTracker;

impl Rule for NotTheListedTracker {
    fn name(&self) -> &'static str {
        "not-the-listed-tracker"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        let listed = listed(world, job);
        let is_listed = |l: &Tie| listed.iter().any(|entry| entry.tracker == l.tracker_key);
        let others: Vec<&Tie> = job.ties.live().into_iter().filter(|l| !is_listed(l)).collect();
        if listed.is_empty() || others.is_empty() {
            return None;
        }
        let entries: Vec<Arc<RecordedFact>> = listed.iter().map(|l| l.entry.clone()).collect();
        let links: Vec<Arc<RecordedFact>> = others.iter().map(|l| l.recorded.clone()).collect();
        let awareness = Awareness::between(&entries, &links);
        let entry = |l: &Listed| ListedTracker {
            tracker: l.entry.owned("tracker").unwrap_or_default(),
            entry: FactRef::of(&l.entry),
        };
        let reason = Reason::NotTheListedTracker(UnlistedTracker {
            trailers: job.values("trailer"),
            listed: listed.iter().map(entry).collect(),
            linked: PairRef::all(&others),
            knowledge: awareness.knowledge(world),
        });
        let draft = Draft::new(Severity::Ask, [job.key.clone()], reason)
            .made_by(entries)
            .made_by(links)
            .standing(awareness.standing());
        Some(draft)
    }

    fn rights(&self, world: &World<'_>, case: &Case) -> Vec<Arc<RecordedFact>> {
        let mut found = usual_rights(world, case);
        if let Some(job) = case.job() {
            found.extend(job.ties.unlinks.iter().map(|u| u.recorded.clone()));
            found.extend(
                job.of_kind(&Kind::Job)
                    .filter(|w| w.fact.text("trailer").is_some())
                    .cloned(),
            );
            for trailer in job.value_keys("trailer") {
                let about = world.facts.about(&Subject::Trailer(trailer));
                found.extend(
                    about
                        .into_iter()
                        .filter(|w| matches!(w.fact.kind(), Kind::Stock | Kind::Withdraw)),
                );
            }
        }
        found
    }
}

fn listed(world: &World<'_>, job: &JobView) -> Vec<Listed> {
    let trailers = job.value_keys("trailer");
    trailers
        .iter()
        .flat_map(|trailer| listed_trackers(world, trailer))
        .collect()
}
